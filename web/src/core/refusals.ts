// What the page says where the station refuses something or tells of trouble, by its code. Part of
// words.ts, in a file of its own for its length: a translation brings both. Where the station knows more
// than we can (which amount a batch size makes too small), its own sentence is shown: no entry here.

import { stamp, way } from "./locale.ts";
import { massWithUnit } from "./numbers.ts";
import { sharedNotices, sharedRefusals } from "./shared.ts";

/** A sentence of our own; or one that keeps the station's, where that names amounts or things. */
type Said = string | ((detail: string) => string);

/** The station's sentence without the place before it: the board says which step it is. */
function placed(detail: string): string {
  return detail.replace(/^batch [^:]+: /, "");
}

const refusals: Record<string, Said> = {
  // weighing
  "nothing-poured": "Nothing has been poured yet.",
  "batch-abandoned": "This batch was abandoned.",
  "too-many-draws": (detail) => `${detail} Put one of them right instead.`,
  "still-weighed": "This batch is still being weighed. Weigh all of it first.",
  "nothing-weighed": "Nothing was weighed in this batch.",
  "not-settled": "Not settled yet. Wait a moment.",
  "needs-reason": "This needs a reason.",
  "unknown-entry": "There is no such entry in this batch. Load the record again.",
  "not-correctable": (detail) => detail,
  "needs-old": "Say what stands there now, so that nobody else's correction is lost.",
  "changed-meanwhile": (detail) => `${detail} Look at it again, then put it right if it is still wrong.`,
  "nothing-changed": (detail) => `${detail} Write what it should be.`,
  "bad-correction": (detail) => `${detail} Write it shorter, or say what it should be.`,
  "not-paired": "This device has not been let in. Type the code that the station shows.",
  "looks-only": "This device only looks: nothing can be done at it. Do it at the station.",
  "wrong-code": "That is not the code, or it is not good any more. Type the one that the station shows now.",
  "wait-for-code": (detail) => `${detail} Have a new code shown meanwhile.`,
  "wrong-door": "A proxy leads to the door for the station's own computer. It belongs at the door for other devices (elsewhere in weighd.toml).",
  "no-devices": "This station is open to its own computer only. Add the section elsewhere to weighd.toml.",
  "unknown-device": "This device was forgotten already. Load the list again.",
  "too-many-devices": "There are as many devices as there can be. Forget those that are not used any more.",
  "too-many-requests": "Too many requests came at once. Wait a moment, then try again.",
  "other-name": (detail) => `${detail} Sign out first, or change who is signed in.`,
  "unknown-person": (detail) => `${detail} Choose a name of the list.`,
  "person-exists": (detail) => `${detail} Add a letter or a second name.`,
  "person-retired": (detail) => detail,
  "first-needs-all": "The first person has to have all rights, or nobody could give them.",
  "last-keeper": (detail) => `${detail} Give somebody else that right first.`,
  "too-many-people": (detail) => detail,
  "not-over": (detail) => `${detail} Countersign it once it is closed or abandoned.`,
  "own-batch": (detail) => `${detail} Have somebody look at it who had no part in it.`,
  "countersigned-already": (detail) => detail,
  "too-many-corrections": (detail) => detail,
  "amount-changed": (detail) => `${detail} Look at what can be done once more.`,
  "not-as-before": (detail) => `${detail} Take all of it out and nothing else, then press again.`,
  "nothing-to-come": "Nothing would be left to weigh. Keep what is in with a reason, or abandon the batch.",
  "nothing-wrong": (detail) => `${detail} Say what went wrong: it ran out, or it was a wrong ingredient.`,
  "weighed-in-parts": (detail) => `${detail} Take some out, keep it with a reason, or abandon the batch.`,
  "already-tared": "The vessel is tared: the scale has shown nothing else since.",
  "already-accepted": "That was accepted already, at another page.",
  "not-current": "That is not the addition on the scale now. Look at the board again.",
  "not-now": "That does not fit what the scale shows now. Look at the board again.",
  "no-vessel": "The scale shows nothing. Set the vessel on it.",
  "vessel-holds-some": (detail) => `${detail.replace(/^addition \d+: /, "")} Set it back; another one can be tared for the next addition.`,
  "other-vessel": (detail) => detail.replace(/^addition \d+: /, ""),
  "same-vessel": "That is still the vessel of the addition before.",
  "not-enough": (detail) => detail.replace(/^addition \d+: /, ""),
  "counts-as-added": (detail) => detail.replace(/^addition \d+: /, ""),
  "zero-is-off": "The empty scale shows less than nothing. Take everything off, zero it with its own key, set the container on.",
  "other-than-vessel": "The scale shows more than the container weighed, or nothing. Take it off, zero the empty scale, set it back.",
  // in process
  "batch-over": "This batch is over. Its record can be read.",
  "cautions-not-confirmed": "Read each caution and confirm it by its name first.",
  "clock-behind": "The clock of the station stands before what was recorded already. Set the computer's clock right.",
  "heat-treatment-open": (detail) => `${placed(detail)} Do it again, or discard the batch.`,
  "needs-temperature": (detail) => `${placed(detail)} Measure it and enter it first.`,
  "not-this-step": "That step does not come yet. Look at the board again.",
  "step-over": "That step is over already, at another page.",
  "bad-value": placed,
  "bad-time": (detail) => `${placed(detail)} Say how long ago it was.`,
  // vessels
  "unknown-vessel": "There is no such vessel any more. Choose another.",
  "vessel-configured": "This vessel stands in the configuration. Change it there.",
  "empty-not-seen": "The scale was not seen empty. Take everything off, wait for zero, then set the vessel on again.",
  "too-many-vessels": "Too many vessels are known. Forget one that is not used any more.",
  "bad-method": (detail) => detail,
  "less-than-vessel": "The scale shows less than the vessel weighs. Take it off, zero the empty scale, set it back.",
  "zero-unknown": "The vessel was tared with the scale's own key, so it cannot be weighed again. Go on if nothing was added; if something was, abandon the batch.",
  "not-all-in": (detail) => detail.replace(/^addition \d+: /, ""),
  "some-is-in": (detail) => `${detail} Bring it back, or abandon the batch.`,
  "same-scale": "It is being weighed on that scale.",
  "bowl-still-on": "The bowl still stands there. Take it off and set an empty dish down.",
  "more-than-the-whole": (detail) => `${detail} Take some out.`,
  "no-lot": (detail) => (detail.startsWith("No lot was named") ? "Name the lot of what is in already first." : "Type the lot as it stands on the pack."),
  "other-ingredient": (detail) => `${detail} Put it aside.`,
  "lot-blocked": (detail) => `${detail} Take another lot.`,
  "lot-expired": (detail) => `${detail} Take another lot: a use-by date is kept to.`,
  "lot-used-up": (detail) => `${detail} If there is some left, count it first.`,
  "past-best-before": (detail) => `${detail} Look, smell and taste. Take another lot, or say why it is good.`,
  "lot-exists": (detail) => `${detail} Give it another code, or none.`,
  "not-made": (detail) => detail,
  "same-lot": "It is taken from that lot already.",
  "unknown-lot": (detail) => `${detail} Look at the code on its label.`,
  // starting
  "no-open-batch": "No batch is open any more.",
  "batch-open": "Another batch is still open. Finish it or abandon it first.",
  "bad-vessel": "Give the vessel's mass as a number of grams, or leave it out.",
  "over-capacity": (detail) => `${detail} Make a smaller batch.`,
  "no-scale": "No scale is set up yet.",
  "unknown-scale": "There is no such scale any more. Choose another.",
  "scale-in-use": (detail) => `${detail} Finish that first; for a check, take the vessel off.`,
  "scale-being-checked": "The scale is being checked. Finish the check, or stop it.",
  "scale-not-checked": (detail) => `${detail} Check it under Scales; take the vessel off first.`,
  "no-check": "This scale is not being checked now, or has no check set up.",
  "scale-not-heard": "The scale has not said anything yet. Switch it on and wait until it is live.",
  "no-formula": "Choose a formula first.",
  "unknown-revision": "This revision is not known here. Look at the list of revisions.",
  "unknown-formula": "This formula is gone from the station's folder.",
  "no-operator": "Say who is weighing: it goes into the record.",
  "bad-text": "That is too long, or holds signs that cannot be shown. Write it shorter and plainer.",
  ...sharedRefusals,
  // the first start
  "set-up-already": (detail) => `${detail} Go on with it; another one is added under Settings.`,
  "unknown-place": "That is not plugged in any more. Look again.",
  "no-such-scale": (detail) => `${detail} Nothing was written. Look at the figures again.`,
  "not-here": "This is done only at the station's own computer. Open this page there.",
  "no-first-start": "This is a demonstration, or a station without that. A station of one's own begins with weighd serve.",
  "nothing-in-it": "No line of the list gives an ingredient with its grams, like 820 g milk.",
  "cannot-read": (detail) => `${detail} See to that file, then try again.`,
  // the kitchen's files
  "ingredient-in-use": (detail) => `${detail} Take it out there first.`,
  "formula-would-break": (detail) => `${detail} Change the formula first.`,
  "cannot-edit": (detail) => `${detail} Change it with an editor of texts.`,
  "cannot-write": (detail) => `${detail} See to the folder of the formulas, then save again.`,
  "file-would-be-too-large": (detail) => `${detail} Take something out first.`,
  "no-solver": "This station was started without a solver, so nothing can be worked out here.",
  "solver-too-long": (detail) => `${detail} Ask for less at once.`,
  // the way there
  "no-answer": "The station is slow to answer. Look whether it happened before you press again.",
  "key-reused": "The station mixed this press up with another one. Press again.",
  stopping: "The station is stopping. Nothing was changed. Wait until it is back.",
  internal: "Something in the station went wrong. Look at the board before you go on.",
  // the record
  "store-full": "The disk is full, so nothing can be recorded. Free some space, then press again.",
  "store-io": "The disk failed, so nothing can be recorded. Look at it and its cable, then press again.",
  "store-read-only": "The station may not write its record there. Whoever set it up has to put that right.",
  "store-locked": "Another program is using the record. Close it, then press again.",
  "store-in-use": "Another station is using this record. Stop that one first.",
  "store-gone": "The record's file was moved or deleted while the station ran. Put it back, or restart the station.",
  "store-missing": "The record's file cannot be opened. Check that its folder is there.",
  "store-corrupt": "The record's file is damaged. Stop the station, keep the file, and put back a copy.",
  "store-not-ours": "The record's file is not one of this station's. Name another in the configuration.",
  "store-newer": "A newer version wrote this record. Use that version.",
  "store-older": "An older version wrote this record. Restart the station once to bring it up to date.",
  "store-closed": "The record is closed. Restart the station.",
  "store-failed": "The record cannot be written. Restart the station.",
};

const notices: Record<string, Said> = {
  ...sharedNotices,
  "unit-changed": (units) => `The scale was switched from ${units.replace(" ", " to ")}. It is counted on in grams.`,
  "check-due": (scale) => `The check of the scale ${scale} is overdue. It is made under Scales.`,
  "check-broken-off": (scale) => `The check of the scale ${scale} was broken off: it went away. Nothing is recorded of it.`,
  "check-left": (scale) => `The check of the scale ${scale} was left for too long and has ended. Nothing is recorded of it.`,
  "clock-wrong": (told) => {
    const [how = "", at = "", other = ""] = told.split(" ");
    const shows = `The clock of this computer shows ${stamp(at)}`;
    if (how === "ahead") return `${shows}, and the newest entry is of ${stamp(other)}. Unless nothing was weighed for so long, set the clock: dates of lots are held against it.`;
    if (how === "back") return `${shows}: it was set back by ${other} s. Entries keep their order, with the times that it shows.`;
    return `${shows}, and something was recorded on ${stamp(other)}. Set the clock: entries keep their order, but have the times that it shows.`;
  },
  "archive-failed": (why) => `Old batches could not be put away: ${why}`,
  "head-failed": (why) => `The head of the day is not where it should be: ${why}`,
  "heads-missed": (days) => `No head was made for ${days}, since the station was not running. The one that was made now stands for those days too.`,
  "key-changed": (key) => `The station's key is not the one it signed with before. From now on it signs with ${key}. If nobody meant that, put the old key back.`,
  "lot-below-nothing": (text) => `Of lot ${text.split(" ")[0]} ${text.split(" ")[1]} g more were weighed than were there. Count it, or look whether another lot was meant.`,
  "name-taken-on-floor": "Another station of this name was on the broker before this one, so the floor is told of that one alone. Give one of them another name.",
  "name-shared-on-floor": "Another station uses the name of this one on the broker, and gives way. Give one of them another name.",
  restarted: "The station restarted. The batch goes on where it was.",
};

const told = {
  /** What the station says itself. */
  other: (text: string) => text,
  store: "For a while the record could not be written. It is written again." };

/** Words that the functions below look up; a translation brings them too. */
export const terms = { refusals, notices, told };

/** Grams in a sentence of the station, in the unit that is shown. */
const inUnit = (sentence: string): string => sentence.replace(/(?<![\d.,])(\d+(?:\.\d+)?) g(?![\w/])/g, (_, grams: string) => massWithUnit(grams));

/** Why something was refused; what the station says itself where its code is new to this page. */
export function refusal(code: string, detail: string, remedy: string): string {
  const said = refusals[code];
  // Another language finds the station's sentence as the station wrote it, and writes its amounts itself.
  if (typeof said === "function") return way.tag.startsWith("en") ? inUnit(said(detail)) : said(detail);
  return said ?? (told.other([detail, remedy].filter(Boolean).join(" ")) || code);
}

/** A notice of the station, told after the fact. */
export function notice(code: string, text: string): string {
  if (code.startsWith("store-")) return told.store;
  const said = notices[code] ?? told.other(text);
  return typeof said === "function" ? said(text) : said;
}

/** Refusals that only say that what was wanted has happened: told calmly, not as a failure. */
export const CALM: ReadonlySet<string> = new Set(["already-accepted", "already-tared", "no-open-batch"]);
