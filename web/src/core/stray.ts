// What is said of a scan with which nothing was done, and of a link that is lost behind a dialog.

export const stray = {
  /** Scanned where nobody waits for it: its Enter pressed and sent nothing. */
  notHere: (code: string) => `${code} was scanned. No lot is asked for here, so nothing was done with it.`,
  /** The station did not say what it is. */
  unheard: (code: string) => `The station was not reached, so ${code} was not taken. Scan it again.`,
  /** While it was asked about, the next ingredient came. */
  late: (code: string) => `The next ingredient came before the station said what ${code} is. Nothing was done with it: scan it again if it is for this one.`,
  lost: "No connection to the station. What you write stays; it can be sent when the station is back.",
  unsent: "No connection to the station: nothing was sent.",
  wait: "Wait: no connection.",
  dismiss: "Got it",
};
