// Why the station refuses something, and what it tells of. Its own sentence, which names amounts and things,
// is said again by sayings.ts; one that has no German there follows ours, marked as English.

import { stamp } from "../../core/locale.ts";
import { massWithUnit } from "../../core/numbers.ts";
import type { TextsOf } from "../../core/texts.ts";
import { foreign } from "../../core/translation.ts";
import { said, says } from "./sayings.ts";

/** Our sentence, then what the station says: where we can say that in German too, it stands for the first
 *  of ours, which says the same without names and amounts. */
function both(ours: string, station: string): string {
  const again = said(station);
  if (again === null) return `${ours} ${foreign(station)}`;
  return [again, ours.replace(/^[^.]*\.\s*/u, "")].filter(Boolean).join(" ");
}

const more = (ours: string) => (detail: string) => both(ours, detail);
const rest = (text: string) => text.split(" ").slice(1).join(" ");
const first = (text: string) => text.split(" ")[0]!;
const bare = (detail: string) => detail.replace(/^batch [^:]+: /, "").replace(/^addition \d+: /, "");
const at = (ours: string) => (detail: string) => both(ours, bare(detail));

export const refusals: TextsOf<"refusals"> = {
  refusals: {
    "nothing-poured": "Es ist noch nichts zugegeben.",
    "batch-abandoned": "Diese Charge wurde abgebrochen.",
    "too-many-draws": more("Mehr Entnahmen nimmt diese Charge nicht auf. Stattdessen eine berichtigen."),
    "still-weighed": "Diese Charge wird noch gewogen. Erst alles wägen.",
    "nothing-weighed": "In dieser Charge wurde nichts gewogen.",
    "not-settled": "Noch nicht beruhigt. Einen Moment warten.",
    "needs-reason": "Dafür braucht es eine Begründung.",
    "unknown-entry": "Diesen Eintrag gibt es in der Charge nicht. Protokoll neu laden.",
    "not-correctable": more("Das lässt sich nicht von Hand berichtigen."),
    "needs-old": "Angeben, was jetzt dort steht, damit keine Berichtigung von anderen verloren geht.",
    "changed-meanwhile": more("Das wurde inzwischen geändert. Noch einmal ansehen, und berichtigen, wenn es noch falsch ist."),
    "nothing-changed": more("Das steht schon so da. Schreiben, wie es heißen soll."),
    "bad-correction": more("So geht die Berichtigung nicht. Kürzer schreiben, oder angeben, wie es heißen soll."),
    "other-name": more("Angemeldet ist jemand anders. Erst abmelden, oder die Anmeldung wechseln."),
    "unknown-person": more("Diesen Namen kennt die Station nicht. Einen Namen aus der Liste wählen."),
    "person-exists": more("Diesen Namen gibt es schon. Einen Buchstaben oder zweiten Namen anfügen."),
    "person-retired": more("Diese Person ist hier nicht mehr tätig."),
    "first-needs-all": "Die erste Person braucht alle Rechte, sonst könnte niemand welche vergeben.",
    "last-keeper": more("Das ist die letzte Person mit diesem Recht. Erst jemand anderem geben."),
    "too-many-people": more("Mehr Personen nimmt die Station nicht auf."),
    "not-over": more("Die Charge läuft noch. Gegenzeichnen, wenn sie fertig oder abgebrochen ist."),
    "own-batch": more("Wer mitgewirkt hat, kann nicht gegenzeichnen. Jemanden ansehen lassen, der nicht beteiligt war."),
    "countersigned-already": more("Das ist schon gegengezeichnet."),
    "too-many-corrections": more("Mehr Berichtigungen nimmt diese Charge nicht auf."),
    "amount-changed": at("Die Menge ist inzwischen eine andere. Noch einmal ansehen, was möglich ist."),
    "not-as-before": at("Es steht nicht mehr so da wie davor. Alles davon herausnehmen und sonst nichts, dann noch einmal drücken."),
    "nothing-to-come": "Dann wäre nichts mehr zu wägen. Mit Begründung so lassen, oder die Charge abbrechen.",
    "nothing-wrong": at("Hier ist nichts falsch. Angeben, was war: Es ging aus, oder es war eine falsche Zutat."),
    "weighed-in-parts": at("Das wird in Teilen gewogen. Etwas herausnehmen, mit Begründung lassen, oder die Charge abbrechen."),
    "already-tared": "Das Gefäß ist tariert: seither hat die Waage nichts anderes gezeigt.",
    "already-accepted": "Das ist schon angenommen, auf einer anderen Seite.",
    "not-current": "Diese Zugabe steht jetzt nicht auf der Waage. Die Tafel noch einmal ansehen.",
    "not-now": "Das passt nicht zu dem, was die Waage jetzt zeigt. Die Tafel noch einmal ansehen.",
    "no-vessel": "Die Waage zeigt nichts an. Gefäß daraufstellen.",
    "vessel-holds-some": at("Im Gefäß ist schon etwas. Zurückstellen; ein anderes lässt sich für die nächste Zugabe tarieren."),
    "other-vessel": at("Das ist ein anderes Gefäß als angegeben."),
    "same-vessel": "Das ist noch das Gefäß der Zugabe davor.",
    "not-enough": at("Im Behälter ist weniger, als gebraucht wird."),
    "counts-as-added": at("Das würde als Zugabe zählen."),
    "zero-is-off": "Die leere Waage zeigt weniger als nichts. Alles abnehmen, mit ihrer Taste nullen, Behälter daraufstellen.",
    "other-than-vessel": "Die Waage zeigt mehr, als der Behälter wog, oder nichts. Abnehmen, leere Waage nullen, zurückstellen.",
    "batch-over": "Diese Charge ist vorbei. Das Protokoll lässt sich lesen.",
    "cautions-not-confirmed": "Erst jeden Warnhinweis lesen und mit seinem Namen bestätigen.",
    "clock-behind": "Die Uhr der Station steht vor dem, was schon aufgezeichnet ist. Uhr des Rechners richtig stellen.",
    "heat-treatment-open": at("Die Erhitzung ist nicht erfüllt. Wiederholen, oder die Charge verwerfen."),
    "needs-temperature": at("Es fehlt eine Temperatur. Erst messen und eintragen."),
    "not-this-step": "Dieser Schritt ist noch nicht dran. Die Tafel noch einmal ansehen.",
    "step-over": "Dieser Schritt ist schon vorbei, auf einer anderen Seite.",
    "bad-value": at("Dieser Wert geht nicht."),
    "bad-time": at("Diese Zeit geht nicht. Angeben, vor wie langer Zeit es war."),
    "unknown-vessel": "Dieses Gefäß gibt es nicht mehr. Ein anderes wählen.",
    "vessel-configured": "Dieses Gefäß steht in der Konfiguration. Dort ändern.",
    "empty-not-seen": "Die Waage war nicht leer zu sehen. Alles abnehmen, auf null warten, Gefäß wieder daraufstellen.",
    "too-many-vessels": "Zu viele Gefäße sind bekannt. Eines vergessen, das nicht mehr gebraucht wird.",
    "bad-method": more("So lässt es sich nicht wägen."),
    "less-than-vessel": "Die Waage zeigt weniger, als das Gefäß wiegt. Abnehmen, leere Waage nullen, zurückstellen.",
    "zero-unknown": "Das Gefäß wurde mit der Taste der Waage tariert und lässt sich nicht neu wägen. Kam nichts dazu: weiter; sonst die Charge abbrechen.",
    "not-all-in": at("Es ist noch nicht alles in der Schüssel."),
    "some-is-in": at("Davon ist schon etwas darin. Zurückbringen, oder die Charge abbrechen."),
    "same-scale": "Auf dieser Waage wird es schon gewogen.",
    "bowl-still-on": "Die Schüssel steht noch dort. Abnehmen und eine leere Schale hinstellen.",
    "more-than-the-whole": at("Das ist mehr als die ganze Menge. Etwas herausnehmen."),
    "no-lot": (detail) => (detail.startsWith("No lot was named") ? "Erst das Los dessen angeben, was schon darin ist." : "Los so eingeben, wie es auf der Packung steht."),
    "other-ingredient": more("Das ist eine andere Zutat. Beiseitestellen."),
    "lot-blocked": more("Dieses Los ist gesperrt. Ein anderes nehmen."),
    "lot-expired": more("Dieses Los ist abgelaufen. Ein anderes nehmen: Ein Verbrauchsdatum gilt."),
    "lot-used-up": more("Dieses Los ist aufgebraucht. Ist noch etwas da, erst zählen."),
    "past-best-before": more("Mindesthaltbarkeit vorbei. Ansehen, riechen, probieren. Ein anderes Los nehmen, oder angeben, warum es gut ist."),
    "lot-exists": more("Diesen Code gibt es schon. Einen anderen geben, oder keinen."),
    "not-made": more("Daraus wurde nichts hergestellt."),
    "same-lot": "Daraus wird schon entnommen.",
    "unknown-lot": more("Dieses Los gibt es hier nicht. Code auf dem Etikett ansehen."),
    "no-open-batch": "Es ist keine Charge mehr offen.",
    "batch-open": "Eine andere Charge ist noch offen. Erst fertig machen oder abbrechen.",
    "bad-vessel": "Masse des Gefäßes als Zahl in Gramm angeben, oder weglassen.",
    "over-capacity": more("Das ist mehr, als die Waage trägt. Eine kleinere Charge machen."),
    "no-scale": "Noch keine Waage eingerichtet.",
    "unknown-scale": "Diese Waage gibt es nicht mehr. Eine andere wählen.",
    "scale-in-use": more("Diese Waage ist in Gebrauch. Erst das beenden; für eine Prüfung das Gefäß abnehmen."),
    "scale-being-checked": "Die Waage wird gerade geprüft. Prüfung beenden oder abbrechen.",
    "scale-not-checked": more("Die Prüfung dieser Waage steht aus. Unter Waagen prüfen; vorher das Gefäß abnehmen."),
    "no-check": "Diese Waage wird gerade nicht geprüft, oder für sie ist keine Prüfung eingerichtet.",
    "scale-not-heard": "Die Waage hat noch nichts gesendet. Einschalten und warten, bis sie verbunden ist.",
    "no-formula": "Erst eine Rezeptur wählen.",
    "unknown-revision": "Diese Fassung ist hier nicht bekannt. In der Liste der Fassungen nachsehen.",
    "unknown-formula": "Diese Rezeptur ist nicht mehr im Ordner der Station.",
    "no-operator": "Angeben, wer wägt: Der Name kommt ins Protokoll.",
    "bad-text": "Das ist zu lang oder enthält Zeichen, die sich nicht zeigen lassen. Kürzer und schlichter schreiben.",
    "ingredient-in-use": more("Diese Zutat wird gebraucht. Erst dort herausnehmen."),
    "formula-would-break": more("Danach wäre eine Rezeptur nicht mehr zu gebrauchen. Erst die Rezeptur ändern."),
    "cannot-edit": more("Das lässt sich hier nicht ändern. Mit einem Texteditor ändern."),
    "set-up-already": more("Hier ist schon eine Waage eingerichtet. Mit ihr weitermachen; eine weitere kommt in den Einstellungen dazu."),
    "unknown-place": "Das ist nicht mehr angesteckt. Noch einmal suchen.",
    "no-such-scale": more("So lässt sich keine Waage einrichten. Nichts wurde geschrieben. Die Angaben noch einmal ansehen."),
    "not-here": "Eine Waage wird am Rechner der Station eingerichtet. Diese Seite dort öffnen.",
    "no-first-start": "Das ist eine Vorführung, oder eine Station ohne das. Eine eigene Station beginnt mit weighd serve.",
    "nothing-in-it": "Keine Zeile der Liste nennt eine Zutat mit ihren Gramm, wie 820 g Milch.",
    "cannot-read": more("Die Datei lässt sich nicht lesen. Nach ihr sehen, dann noch einmal versuchen."),
    "cannot-write": more("Das lässt sich nicht schreiben. Nach dem Ordner der Rezepturen sehen, dann noch einmal speichern."),
    "file-would-be-too-large": more("Die Datei würde zu groß. Erst etwas herausnehmen."),
    "no-solver": "Diese Station läuft ohne Rechenprogramm für Rezepturen; hier lässt sich nichts ausrechnen.",
    "solver-too-long": more("Das Ausrechnen dauert zu lange. Weniger auf einmal verlangen."),
    "no-answer": "Die Station antwortet langsam. Nachsehen, ob es geschehen ist, bevor noch einmal gedrückt wird.",
    "key-reused": "Die Station hat diesen Druck mit einem anderen verwechselt. Noch einmal drücken.",
    stopping: "Die Station hält an. Nichts wurde geändert. Warten, bis sie wieder da ist.",
    internal: "In der Station ging etwas schief. Die Tafel ansehen, bevor es weitergeht.",
    "store-full": "Die Festplatte ist voll, nichts lässt sich aufzeichnen. Platz schaffen, dann noch einmal drücken.",
    "store-io": "Die Festplatte hat versagt, nichts lässt sich aufzeichnen. Nach ihr und ihrem Kabel sehen, dann noch einmal drücken.",
    "store-read-only": "Die Station darf ihr Protokoll dort nicht schreiben. Das muss in Ordnung bringen, wer sie eingerichtet hat.",
    "store-locked": "Ein anderes Programm benutzt das Protokoll. Schließen, dann noch einmal drücken.",
    "store-in-use": "Eine andere Station benutzt dieses Protokoll. Erst jene anhalten.",
    "store-gone": "Die Datei des Protokolls wurde verschoben oder gelöscht, während die Station lief. Zurücklegen, oder die Station neu starten.",
    "store-missing": "Die Datei des Protokolls lässt sich nicht öffnen. Prüfen, ob ihr Ordner da ist.",
    "store-corrupt": "Die Datei des Protokolls ist beschädigt. Station anhalten, die Datei aufheben und eine Kopie einspielen.",
    "store-not-ours": "Die Datei des Protokolls gehört keiner Station dieser Art. In der Konfiguration eine andere nennen.",
    "store-newer": "Eine neuere Version hat dieses Protokoll geschrieben. Jene Version benutzen.",
    "store-older": "Eine ältere Version hat dieses Protokoll geschrieben. Station einmal neu starten, dann ist es auf dem Stand.",
    "store-closed": "Das Protokoll ist geschlossen. Station neu starten.",
    "store-failed": "Das Protokoll lässt sich nicht schreiben. Station neu starten.",
    "formula-not-taken": more("Diese Rezeptur ist noch nicht übernommen. Unter Rezepturen ansehen und übernehmen."),
    "not-shared": more("Was im gemeinsamen Speicher steht, hält der Prüfung nicht stand. Nach dem Protokoll jener Station sehen."),
    "no-shared-store": "Diese Station teilt mit keiner anderen.",
  },
  notices: {
    "unit-changed": (units) => `Die Waage wurde von ${units.replace(" ", " auf ")} umgestellt. Gezählt wird weiter in Gramm.`,
    "check-due": (scale) => `Die Prüfung der Waage ${scale} ist überfällig. Sie wird unter Waagen gemacht.`,
    "check-broken-off": (scale) => `Die Prüfung der Waage ${scale} brach ab: Die Waage war weg. Davon ist nichts aufgezeichnet.`,
    "check-left": (scale) => `Die Prüfung der Waage ${scale} blieb zu lange liegen und ist beendet. Davon ist nichts aufgezeichnet.`,
    "clock-wrong": (told) => {
      const [how = "", at = "", other = ""] = told.split(" ");
      const shows = `Die Uhr dieses Rechners zeigt ${stamp(at)}`;
      if (how === "ahead") return `${shows}, und der neueste Eintrag ist von ${stamp(other)}. Wurde nicht wirklich so lange nichts gewogen, die Uhr stellen: Daten von Losen werden an ihr gemessen.`;
      if (how === "back") return `${shows}: Sie wurde um ${other} s zurückgestellt. Die Einträge behalten ihre Reihenfolge, mit den Zeiten der Uhr.`;
      return `${shows}, und am ${stamp(other)} wurde schon etwas aufgezeichnet. Die Uhr stellen: Einträge behalten ihre Reihenfolge, haben aber die Zeiten der Uhr.`;
    },
    "head-failed": (why) => `Der Tageskopf ist nicht dort, wo er sein soll: ${foreign(why)}`,
    "heads-missed": (days) => `Für ${days} wurde kein Tageskopf gemacht, weil die Station nicht lief. Der jetzige gilt auch für diese Tage.`,
    "key-changed": (key) => `Der Schlüssel der Station ist nicht der, mit dem sie bisher signiert hat. Ab jetzt signiert sie mit ${key}. War das nicht gewollt: den alten Schlüssel zurücklegen.`,
    "lot-below-nothing": (text) => `Vom Los ${text.split(" ")[0]} wurden ${massWithUnit(rest(text))} mehr gewogen, als da waren. Zählen, oder nachsehen, ob ein anderes Los gemeint war.`,
    "lot-blocked-now": (text) => `STOPP: Das für diese Zugabe angegebene Los ${first(text)} wurde in ${rest(text)} gesperrt. Nicht zugeben. Ein anderes Los angeben.`,
    "lot-blocked-at": (text) => `Los ${first(text)} wurde in ${rest(text)} gesperrt.`,
    "lot-code-twice": (text) => {
      const [code, station, here] = text.split(" ");
      return `Station ${station} hat ein anderes Los mit dem Code ${code} erhalten. Hier heißt jenes ${here}.`;
    },
    "lot-overdrawn": (text) => `Vom Los ${first(text)} haben alle Stationen zusammen ${massWithUnit(rest(text))} mehr entnommen, als da war. Zählen, und nachsehen, wer es hat.`,
    "not-shared": (text) => `Eintrag ${rest(text)} der Station ${first(text)} im gemeinsamen Speicher hält der Prüfung nicht stand. Von dort wird nichts mehr übernommen, bis jemand nachsieht.`,
    "formula-came-down": (names) => `Von anderen Stationen kamen Rezepturen: ${names}.`,
    "name-taken-on-floor": "Eine andere Station dieses Namens war vor dieser beim Broker; die Übersicht erfährt nur von jener. Einer von beiden einen anderen Namen geben.",
    "name-shared-on-floor": "Eine andere Station benutzt beim Broker den Namen dieser und gibt nach. Einer von beiden einen anderen Namen geben.",
    restarted: "Die Station ist neu gestartet. Die Charge geht dort weiter, wo sie war.",
  },
  told: { other: says, store: "Eine Zeit lang ließ sich das Protokoll nicht schreiben. Jetzt wird es wieder geschrieben." },
};
