// What the station says in sentences of its own, in German: why it refuses something, and what is wrong
// with a field. The key is its English sentence without the full stop, {} for what it fills in.

import { massWithUnit } from "../../core/numbers.ts";
import { type Sayings, sayer } from "../../core/sayings.ts";
import { foreign } from "../../core/translation.ts";

const STATUS = "open=offen|in process=in Verarbeitung|closed=fertig|abandoned=abgebrochen";
const FIELD = "lot=Los|operator=Name|vessel=Gefäß|reason=Begründung|note=Notiz";

/** At the board. */
export const atTheBoard: Sayings = {
  "{} g of the {} were taken from the vessel that was tared": "aus dem tarierten Behälter kamen {1:g} {2}",
  "The vessel that was lifted holds {} g of the {}": "im abgehobenen Gefäß sind {1:g} {2}",
  "{} g count as {}": "{1:g} zählen als {2}",
  "The vessel weighs {} g with all that is in it; {} g of {} are to leave it": "der Behälter wiegt mit allem darin {1:g}; {2:g} {3} sollen heraus",
  "{} g stand on the scale, but {} weighs {} g: {} g {}, where {} g are allowed for": "auf der Waage stehen {1:g}, und {2} wiegt {3:g}: {4:g} {5?less=weniger|more=mehr}, erlaubt sind {6:g}",
  "{} g stand on the scale, but {} weighs {} g when it is empty: {} g {}, where {} g are allowed for": "auf der Waage stehen {1:g}, und {2} wiegt leer {3:g}: {4:g} {5?less=weniger|more=mehr}, erlaubt sind {6:g}",
  "{} g stand on the scale, but {} weighs {} g, and {} g are in it: {} g {}, where {} g are allowed for": "auf der Waage stehen {1:g}, und {2} wiegt {3:g} mit {4:g} darin: {5:g} {6?less=weniger|more=mehr}, erlaubt sind {7:g}",
  "The bowl is {} g lighter than it should be. From the dish, {} g should have come in: {}": "die Schüssel ist um {1:g} leichter, als sie sein soll. Aus der Schale sollten {2:g} hineinkommen: {3}",
  "The bowl is {} g heavier than it should be with {} in it": "die Schüssel ist mit {2} darin um {1:g} schwerer, als sie sein soll",
  "With this part {} g of the {} would be in, where {} g are wanted in all": "mit diesem Teil wären {1:g} {2} darin; im Ganzen sollen es {3:g} sein",
  "Some of the {} is in already, and only the scale {} knows how much": "vom {1} ist schon etwas darin, und nur die Waage {2} weiß, wie viel",
  "{} g of {} are more than the scale {} can weigh ({} g)": "{1:g} {2} sind mehr, als die Waage {3} wägen kann ({4:g})",
  "{} g of {} are more than any scale here can weigh, even in parts: the largest, {}, holds {} g with the vessel, and some room is kept below that": "{1:g} {2} kann hier keine Waage wägen, auch nicht in Teilen: Die größte, {3}, trägt {4:g} samt Gefäß, und etwas Platz bleibt frei",
  "{} g of it are in, and not {} g any more": "darin sind {1:g}, und nicht mehr {2:g}",
  "The vessel is {} g {} than it was before the wrong ingredient went in": "das Gefäß ist um {1:g} {2?heavier=schwerer|lighter=leichter}, als es vor der falschen Zutat war",
  "{} g of {} are in, and up to {} g are allowed": "{1:g} {2} sind darin, bis {3:g} sind erlaubt",
  "Nothing has been poured yet": "es ist noch nichts zugegeben",
  "The {} of this batch is weighed in parts or by a premix, and what is left of such an amount follows from what is in of it": "{1} wird in dieser Charge in Teilen oder mit einer Vormischung gewogen; was davon noch fehlt, folgt aus dem, was darin ist",
  "The scale {} is in use: the {} is being weighed": "die Waage {1} ist in Gebrauch: {2} wird gewogen",
  "The scale {} is being weighed on, or checked": "auf der Waage {1} wird gewogen, oder sie wird geprüft",
  "The scale {} is being used for something else": "die Waage {1} wird für anderes gebraucht",
  "The scale {} has not been checked for too long, and nothing is accepted on it until it has passed": "die Waage {1} ist zu lange nicht geprüft worden; bis sie besteht, wird auf ihr nichts angenommen",
  "The scale {} failed its check, and nothing is accepted on it until it has passed": "die Waage {1} hat ihre Prüfung nicht bestanden; bis sie besteht, wird auf ihr nichts angenommen",
  "The scale {} could not be told to be right when it was checked, and nothing is accepted on it until it has passed": "die Prüfung der Waage {1} war zu knapp, um sie für richtig zu erklären; bis sie besteht, wird auf ihr nichts angenommen",
  "The scale {} has not been checked yet, and nothing is accepted on it until it has passed": "die Waage {1} ist noch nie geprüft worden; bis sie besteht, wird auf ihr nichts angenommen",
};

/** In process. */
export const inProcess: Sayings = {
  "No temperature was entered for {}": "für {1} ist keine Temperatur eingetragen",
  "The heat treatment ({}) is not satisfied: the batch cannot be closed": "die Erhitzung ({1}) ist nicht erfüllt: Die Charge lässt sich nicht abschließen",
  "That time has not come yet": "diese Zeit ist noch nicht da",
  "It cannot have been before what came before it": "es kann nicht vor dem gewesen sein, was davor kam",
  "It failed": "es ist misslungen",
  "A heat treatment cannot be let pass": "eine Erhitzung lässt sich nicht durchwinken",
  "It satisfies {} ({})": "sie erfüllt {1} ({2})",
  "Nothing measured was as hot as {} ({})": "nichts Gemessenes war so heiß wie {1} ({2})",
  "It held {} for {}: that satisfies no listed pair, and between the pairs nothing is known": "{1} wurde {2} gehalten: Das erfüllt keines der Paare in der Tabelle, und dazwischen ist nichts bekannt",
  "It was colder than {}": "es war kälter als {1}",
  "It was warmer than {}": "es war wärmer als {1}",
  "It took {}, less than the formula asks for": "es dauerte {1}, kürzer als die Rezeptur verlangt",
  "It took {}, more than the formula allows": "es dauerte {1}, länger als die Rezeptur erlaubt",
  "It took {} to get there, more than the formula allows": "bis dorthin dauerte es {1}, länger als die Rezeptur erlaubt",
};

/** Lots, records, people, the kitchen's files. */
export const aboutRecords: Sayings = {
  "That is {}; {} is being weighed": "das ist {1}; gewogen wird {2}",
  "This lot of {} is blocked: {}": "dieses Los {1} ist gesperrt: {2}",
  "This lot of {} was to be used by {}": "dieses Los {1} war bis {2} zu verbrauchen",
  "This lot of {} was to be used by {}, since it was opened on {} and keeps {} days": "dieses Los {1} war bis {2} zu verbrauchen: geöffnet am {3}, haltbar {4} Tage",
  "This lot of {} was said to be used up": "dieses Los {1} gilt als aufgebraucht",
  "This lot of {} was best before {}": "dieses Los {1} war mindestens haltbar bis {2}",
  'No lot "{}" was received here': "ein Los „{1}“ ist hier nicht eingegangen",
  'There is no lot and no batch "{}"': "es gibt weder ein Los noch eine Charge „{1}“",
  "It is of a lot that is not known here yet": "es gehört zu einem Los, das hier noch nicht bekannt ist",
  "A lot {} was received before": "ein Los {1} ist schon eingegangen",
  "A lot {} was received before, at {}": "ein Los {1} ist schon eingegangen, bei {2}",
  "What station {} recorded is not taken: {}": "was Station {1} aufgezeichnet hat, wird nicht übernommen: {2}",
  "Batch {} was not weighed to its end": "Charge {1} wurde nicht zu Ende gewogen",
  "Batch {} is {}: nothing was made that could be a lot": `Charge {1} ist {2?${STATUS}}: Daraus wurde nichts, das ein Los sein könnte`,
  "Batch {} is {}: there may be more to come": `Charge {1} ist {2?${STATUS}}: Es kann noch etwas dazukommen`,
  "{} had a part in batch {}, and cannot countersign it": "{1} war an Charge {2} beteiligt und kann nicht gegenzeichnen",
  "{} countersigned batch {} on {}, and nothing was added since": "{1} hat Charge {2} am {3} gegengezeichnet, und seither kam nichts dazu",
  "Meanwhile batch {} has {} entries, and {} were looked at": "Charge {1} hat inzwischen {2} Einträge; angesehen sind {3}",
  'Meanwhile the {} is "{}"': `{1?${FIELD}} ist inzwischen „{2}“`,
  "Meanwhile no {} is named": `{1?${FIELD}} ist inzwischen leer`,
  "The {} is that already": `{1?${FIELD}}: Das steht schon da`,
  "The {} cannot be left empty": `{1?${FIELD}} kann nicht leer bleiben`,
  "The {} is too long": `{1?${FIELD}} ist zu lang`,
  "In entry {} nobody wrote a {}: what follows from the scale, a thermometer or the clock cannot be put right by hand": `in Eintrag {1} hat niemand etwas geschrieben ({2?${FIELD}}): Was von Waage, Thermometer oder Uhr kommt, lässt sich nicht von Hand berichtigen`,
  "{} corrections of batch {} are recorded already": "von Charge {2} sind schon {1} Berichtigungen aufgezeichnet",
  "{} draws of batch {} are recorded already": "von Charge {2} sind schon {1} Entnahmen aufgezeichnet",
  'Nobody here is called "{}"': "hier heißt niemand „{1}“",
  'Nobody who works here is called "{}"': "hier arbeitet niemand, der „{1}“ heißt",
  "{} is signed in here, and {} was named": "angemeldet ist {1}, angegeben war {2}",
  "Somebody is called {} already: a name in a record has to stay one person's": "{1} heißt hier schon jemand: Ein Name im Protokoll gehört immer derselben Person",
  "Somebody is called {} already, who is retired: a name in a record has to stay one person's": "{1} hieß hier schon jemand, der nicht mehr tätig ist: Ein Name im Protokoll gehört immer derselben Person",
  "There are {} names already": "es sind schon {1} Namen",
  "{} has been retired since {}": "{1} ist seit {2} nicht mehr tätig",
  "{} is the last who may look after people and cannot {}": "{1} darf als Letzte nach den Personen sehen und kann das Recht nicht abgeben",
  "{} is needed by {}": "{1} wird gebraucht von: {2}",
  "The formula {} could not be read any more: {}": "die Rezeptur {1} wäre nicht mehr zu lesen: {2}",
  "{} is written in a way that cannot be changed from here ({})": "{1} ist so geschrieben, dass es sich von hier aus nicht ändern lässt ({2})",
  "{} would be larger than {} kB": "{1} würde größer als {2} kB",
  "{} cannot be written: {}. It is as it was": "{1} lässt sich nicht schreiben: {2}. Es ist wie zuvor",
  "The folder cannot be made: {}": "der Ordner lässt sich nicht anlegen: {1}",
  "No answer was found within {} s": "in {1} s fand sich keine Lösung",
  "{} came from station {} and was not taken here yet": "{1} kam von Station {2} und ist hier noch nicht übernommen",
  '"{}" is no day or time': "„{1}“ ist weder Tag noch Zeit",
};

/** What is wrong with a field of a formula, an ingredient or the limits. */
export const inFields: Sayings = {
  '"{}" is missing or empty': "„{1}“ fehlt oder ist leer",
  '"{}" is missing': "„{1}“ fehlt",
  '"{}" is longer than {} characters': "„{1}“ ist länger als {2} Zeichen",
  '"{}" holds control characters': "„{1}“ enthält Steuerzeichen",
  '"{}" holds a text that cannot be shown': "„{1}“ enthält Text, der sich nicht zeigen lässt",
  '"{}" must be text in quotes': "„{1}“ muss Text in Anführungszeichen sein",
  '"{}" must be a list of texts': "„{1}“ muss eine Liste von Texten sein",
  '"{}" must be a table': "„{1}“ muss eine Tabelle sein",
  '"{}" must be a line of text': "„{1}“ muss eine Zeile Text sein",
  '"{}" must be a line of text in quotes': "„{1}“ muss eine Zeile Text in Anführungszeichen sein",
  '"{}" is not a field here; the fields are {}': "„{1}“ ist hier kein Feld; die Felder sind {2}",
  "a formula needs at least one [[additions]]": "eine Rezeptur braucht mindestens eine Zugabe",
  "{} additions are too many; {} at most": "{1} Zugaben sind zu viele; höchstens {2}",
  "the amounts add up to more than {} g": "die Mengen ergeben zusammen mehr als {1:g}",
  'no ingredient is called "{}"; add [ingredients.{}] here or to the ingredient list': "eine Zutat „{1}“ gibt es nicht; hier oder in der Zutatenliste anlegen",
  'no ingredient is called "{}"': "eine Zutat „{1}“ gibt es nicht",
  'the tolerance "{}" is as large as the amount itself': "die Toleranz „{1}“ ist so groß wie die Menge selbst",
  '"{}" cannot name an ingredient; use lower-case letters, digits and hyphens': "„{1}“ taugt nicht als Kennung; Kleinbuchstaben, Ziffern und Bindestriche nehmen",
  '"{}" cannot carry the {}; a carrier is another ingredient that this formula weighs in': "„{1}“ kann {2} nicht tragen; ein Träger ist eine andere Zutat dieser Rezeptur",
  '"{}" is not an amount; write a number and a unit, like "120 g"': "„{1}“ ist keine Menge; Zahl und Einheit schreiben, wie „120 g“",
  '"{}" is not an amount that can be weighed': "„{1}“ ist keine Menge, die sich wägen lässt",
  '"{}" is negative; an amount is above zero': "„{1}“ ist negativ; eine Menge ist größer als null",
  'the tolerance "{}" has no unit; write it like "2 g" or "1 %"': "die Toleranz „{1}“ hat keine Einheit; schreiben wie „2 g“ oder „1 %“",
  'the tolerance "{}" is zero; no scale can weigh that exactly': "die Toleranz „{1}“ ist null; so genau wiegt keine Waage",
  '"{}" is not a tolerance; write it like "2 g", "1 %" or "+1 / -2 g"': "„{1}“ ist keine Toleranz; schreiben wie „2 g“, „1 %“ oder „+1 / -2 g“",
  'the tolerance "{}" is 100 % or more': "die Toleranz „{1}“ ist 100 % oder mehr",
  '"{}" is not a unit known here; use one of {}': "„{1}“ ist hier keine Einheit; eine von diesen nehmen: {2}",
  "{} steps are too many; {} at most": "{1} Schritte sind zu viele; höchstens {2}",
  'cooling needs a temperature, like "at most 4 °C"': "Abkühlen braucht eine Temperatur, wie „at most 4 °C“",
  'ageing needs a time, like "4 h to 24 h"': "Reifen braucht eine Zeit, wie „4 h to 24 h“",
  'no table of heat treatments is called "{}"; there are {}': "eine Erhitzungstabelle „{1}“ gibt es nicht; es gibt {2}",
  'there are two cautions called "{}"': "zwei Warnhinweise heißen „{1}“",
  "{} cautions are more than anybody reads": "{1} Warnhinweise liest niemand mehr",
  '"{}" is no limit of temperature; write "at most 4 °C" or "2 to 4 °C"': "„{1}“ ist keine Temperaturgrenze; schreiben wie „at most 4 °C“ oder „2 to 4 °C“",
  '"{}" is no limit of time; write "within 90 min" or "4 h to 24 h"': "„{1}“ ist keine Zeitgrenze; schreiben wie „within 90 min“ oder „4 h to 24 h“",
  '"{}" begins where it ends, or above': "„{1}“ beginnt, wo es endet, oder darüber",
  '"{}" begins where it ends, or later': "„{1}“ beginnt, wo es endet, oder später",
  '"{}" leaves no time': "„{1}“ lässt keine Zeit",
  '"{}" is not a length of time; write it like "90 min"': "„{1}“ ist keine Dauer; schreiben wie „90 min“",
  'the time "{}" has no unit; write it like "90 min"': "die Zeit „{1}“ hat keine Einheit; schreiben wie „90 min“",
  '"{}" is no unit of time; write it like "90 min"': "„{1}“ ist keine Einheit der Zeit; schreiben wie „90 min“",
  '"{}" is longer than ten days': "„{1}“ ist länger als zehn Tage",
  '"{}" is negative; a time is not': "„{1}“ ist negativ; eine Zeit ist es nicht",
  '"{}" is not a temperature; write it like "4 °C"': "„{1}“ ist keine Temperatur; schreiben wie „4 °C“",
  '"{}" is colder than anything can be ({} °C)': "„{1}“ ist kälter, als irgendetwas sein kann ({2} °C)",
  '"{}" is hotter than any food is made ({} °C)': "„{1}“ ist heißer, als Essen je wird ({2} °C)",
  '"{}" is {}; it is from {} to {}': "„{1}“ ist {2}; möglich ist {3} bis {4}",
  '"{}" must be whole days above 0': "„{1}“ muss eine ganze Zahl von Tagen über 0 sein",
  '"{}" is not a plain number': "„{1}“ ist keine einfache Zahl",
  '"{}" is not a day; write it like 2026-11-30': "„{1}“ ist kein Tag; schreiben wie 2026-11-30",
  "{}; write grams in 100 g, like 3.25": "{1}; Gramm in 100 g schreiben, wie 3,25",
  '"composition" must be a table of grams in 100 g': "die Zusammensetzung muss eine Tabelle mit Gramm in 100 g sein",
  '"sugars" must be a table of kinds, like { sucrose = 12.5 }; write { unspecified = 12.5 } where the kinds are not known': "die Zucker müssen eine Tabelle nach Arten sein, wie { sucrose = 12.5 }; { unspecified = 12.5 }, wo die Arten nicht bekannt sind",
  '"instead" is a list: [[...instead]]': "die Regeln für Ersatz sind eine Liste: [[...instead]]",
  '"limits" is a list: [[...limits]]': "die Grenzen sind eine Liste: [[...limits]]",
  '"of" names a quantity, or a list of parts to add; quantities are {}': "„of“ nennt eine Größe oder eine Liste von Teilen; Größen sind {1}",
  '"ratio": {}': "das Verhältnis: {1}",
  '"{}" is not a kind of step; the kinds are {}': "„{1}“ ist keine Art von Schritt; die Arten sind {2}",
  'a caution has a name and a text: { name = "...", text = "..." }': "ein Warnhinweis hat Namen und Text: { name = \"...\", text = \"...\" }",
  "a heat treatment has no limits of its own: it follows a published table": "eine Erhitzung hat keine eigenen Grenzen: Sie folgt einer veröffentlichten Tabelle",
  "a table is for heat-treat; this step is {}": "eine Tabelle gehört zu einer Erhitzung; dieser Schritt ist {1}",
  "an ingredient is a table with a name": "eine Zutat ist eine Tabelle mit einem Namen",
  "steps are written as [[steps]], one after the other": "Schritte stehen als [[steps]], einer nach dem anderen",
  "this must be a table": "das muss eine Tabelle sein",
  "more than {} rules": "mehr als {1} Regeln",
  '"ratio" is {}; it is from {} to {}': "das Verhältnis ist {1}; möglich ist {2} bis {3}",
  '"{}" cannot stand in for itself': "„{1}“ kann sich nicht selbst ersetzen",
  'there are two rules for "{}"; keep one of them': "für „{1}“ gibt es zwei Regeln; eine behalten",
  'a limit needs "min" or "max"': "eine Grenze braucht ein Mindest- oder ein Höchstmaß",
  '"min" is above "max"': "das Mindestmaß liegt über dem Höchstmaß",
  "a class is named by 1 to {} plain characters": "eine Klasse heißt mit 1 bis {1} einfachen Zeichen",
};

const known = sayer({ ...atTheBoard, ...inProcess, ...aboutRecords, ...inFields }, massWithUnit);

/** What the station says, in German; null where a sentence of it has none. */
export function said(text: string): string | null {
  const whole = known(text);
  if (whole !== null || !/\. \p{Lu}/u.test(text)) return whole;
  const parts = text.split(/(?<=\.) (?=\p{Lu})/u).map(known);
  return parts.includes(null) ? null : parts.join(" ");
}

/** The same, marked as English where there is no German for it. */
export const says = (text: string): string => said(text) ?? foreign(text);
