"""What the events of the log mean; a test names the ones that are missing here."""

from __future__ import annotations

from collections.abc import Mapping

_DEFECT = "A defect of weighd or of a driver; what went wrong stands below it. Report it."

EVENTS: Mapping[str, str] = {
    "the recording goes on in another file": "`--record`: the one `after` which it goes on is long "
    "enough. The station began anew for it.",
    "the recording ended": "`file` takes no more; `why` says whether the disk or `--record-mb` is "
    "the reason. Weighing goes on.",
    "ready": "The station runs, and its page is at `address`.",
    "scale lost": "A scale was unplugged, switched off or fell silent; `why` says which.",
    "scale found": "A scale is there, for the first time or again.",
    "driver failed": f"The driver of a scale broke off; it is started again. {_DEFECT}",
    "a driver failed while it was looked at": f"While scales were looked for. {_DEFECT}",
    "a port could not be tried out": f"While scales were looked for. {_DEFECT}",
    "a part of the station does not go on": "`part` has not gone on for `for_s` seconds. Under a "
    "service manager the station is started anew if it stays so.",
    "a part of the station goes on again": "It does.",
    "weighd ends for a defect": f"Nothing that was accepted is lost. {_DEFECT}",
    "a thread ends for a defect": f"`thread` says which. {_DEFECT}",
    "the clock of this computer cannot be right": "Entries say that their time is in doubt. Set "
    "the clock.",
    "another key than before": "The station signs with another key, because the old one is gone. "
    "Put the old one back, or verify with both.",
    "what was learned of the scales is not kept": "The file beside the record cannot be written; "
    "weighing goes on, and it is learned anew after a restart.",
    "the configuration cannot be used; going on with the old one": "It was changed, and is wrong "
    "in the place that `why` names. Mend it there.",
    "check of a scale": "A check with weights cannot tell what it should; `why` says what to "
    "state, or which weight to take.",
    "the sender failed": f"Entries wait here until it is started again, by itself. {_DEFECT}",
    "the record is read; this takes a while the first time": "Whoever opens the page is told so; "
    "it goes on by itself.",
    "what a start needs could not be kept": "The next start reads the record again, which takes "
    "longer; see to the disk.",
    "what was kept for a start cannot be used, and is made anew": "It is a cache: nothing is lost.",
    "the record was brought up to date": "A newer weighd added to how it is kept; the copy that "
    "was made before is the way back.",
    "the shared store takes entries again": "It was away, and is back; what waited is sent.",
    "the receiver failed": f"Nothing comes down until it is started again, by itself. {_DEFECT}",
    "a formula came down": "Another station published it.",
    "nothing comes down from the shared store": "It is away, or refuses; `why` says more.",
    "old batches were put away": "As `[retention]` asks: into `archive`. Keep it with copies.",
    "old batches could not be put away": "They stand where they were; it is tried again in an "
    "hour. See to what `why` says.",
    "putting old batches away failed": f"They stand where they were. {_DEFECT}",
    "daily head": "The head of a day was made; or, as a warning, why it could not be. It is tried "
    "again.",
    "daily head failed": f"It is tried again. {_DEFECT}",
    "daily head not on paper": "The page to print could not be made; the head itself was.",
    "no floor": "The broker of the floor is away, or refuses; weighing goes on.",
    "floor": "The broker of the floor is there.",
    "another station of this name": "Two stations tell the broker the same name. Rename one.",
    "the link to the broker failed": f"It is made again. {_DEFECT}",
    "the floor cannot be told of this station": f"Weighing goes on. {_DEFECT}",
    "elsewhere": "How the door for other devices stands: without TLS, or what is doubtful of its "
    "certificate, in `why`.",
    "a new certificate is used": "Certificate and key were renewed, and are used from now on.",
    "the new certificate is not used": "What stands there now cannot be used; the one before goes "
    "on. `why` says what is wrong.",
    "a code for a device was shown, may %s%s": "Somebody lets a device in: what it may, and who.",
    "device %s was paired, may %s": "A device typed the code; `weighd devices --json` has its id.",
    "device %s left": "A device was forgotten at itself.",
    "device %s was forgotten%s": "A device is out: which, and by whom.",
    "when a device was seen is not kept: %s": "The record cannot be written; see to the disk.",
    "%s %s failed": f"A request met a defect; whoever asked got the code `internal`. {_DEFECT}",
    "person %s was %s%s": "Somebody changed the list of people: whom, what, and who did it, by "
    "their numbers in `weighd people list`.",
    "%s: %s %s%s": "Somebody did what needs a right: which, where, who, and who let them, by their "
    "numbers in `weighd people list`.",
}
