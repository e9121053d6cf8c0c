// At the board: naming the lot, the next one where it ran out, and what a scan said.

import { signal } from "@preact/signals";
import { useState } from "preact/hooks";
import type { Scan } from "../core/lots.ts";
import { words } from "../core/words.ts";
import { Complaint, Sheet, shut } from "./dialogs.tsx";
import { useScans } from "./scanner.ts";
import { Shape } from "./shapes.tsx";
import { batch, command, complaint, current, dialog, live, refused, stance } from "./store.ts";

/** What the lot's dialog begins with, where a scan opened it; and what a scan said that has to be told. */
const begun = signal("");
export const said = signal<Scan | null>(null);

/** Take the lot that is shown beside the addition. */
export function takeShown(): void {
  const shown = batch.peek()?.first_out;
  if (shown && current.peek()?.lot === "") void command("name lot", { lot: shown.lot });
}

export function LotDialog() {
  return <LotForm key={begun.value} />;
}

/** Whether some of the ingredient went in, or is going: another lot then is not just another name. */
function someIsIn(): boolean {
  const it = live.peek();
  return it !== null && it.phase !== "awaiting vessel" && it.phase !== "ready";
}

function LotForm() {
  void stance.value;
  const addition = current.value;
  const [lot, write] = useState(begun.peek() || (addition?.lot ?? ""));
  const [reason, why] = useState("");
  const [told, say] = useState("");
  const [sending, mark] = useState(false);
  if (addition === null) return null;
  const shown = batch.value?.first_out ?? null;
  const next = addition.lot !== "" && someIsIn();
  const send = async (what: "name lot" | "next lot", code: string) => {
    if (!code.trim()) return say(words.lot.needed);
    if (sending) return;
    mark(true);
    if (await command(what, { lot: code.trim(), ...(reason.trim() ? { reason: reason.trim() } : {}) })) shut();
    mark(false);
  };
  const submit = (event: Event) => {
    event.preventDefault();
    void send(next && lot.trim() !== addition.lot ? "next lot" : "name lot", lot);
  };
  return (
    <Sheet title={words.lot.title(addition.name)}>
      {shown && shown.lot !== addition.lot && (
        <button type="button" class="plain lot-shown" data-testid="take-lot" onClick={() => void send(next ? "next lot" : "name lot", shown.lot)}>
          <b>{words.lots.board.take(shown)}</b>
          <span>{words.lots.board.takeMore(shown)}</span>
        </button>
      )}
      <form onSubmit={submit}>
        <label class="field">
          <span>{words.lot.field}</span>
          <input type="text" maxLength={80} autoFocus autocomplete="off" value={lot} onInput={(e) => write(e.currentTarget.value)} />
        </label>
        {refused.value === "past-best-before" && (
          <label class="field">
            <span>{words.lots.board.why}</span>
            <input type="text" maxLength={500} autocomplete="off" value={reason} onInput={(e) => why(e.currentTarget.value)} />
          </label>
        )}
        <Complaint text={told || complaint.value} />
        <div class="row">
          <button type="button" class="plain" onClick={shut}>
            {words.cancel}
          </button>
          {next && lot.trim() !== addition.lot && (
            <button type="button" class="plain" disabled={sending} onClick={() => void send("name lot", lot)}>
              {words.lots.board.instead}
            </button>
          )}
          <button type="submit" class="solid" disabled={sending}>
            {next && lot.trim() !== addition.lot ? words.lots.board.next : words.lot.save}
          </button>
        </div>
      </form>
    </Sheet>
  );
}

/** What a scan said that must be read before anything is poured: large, and with a shape. */
export function ScanDialog() {
  const it = said.value;
  if (it === null) return null;
  const w = words.lots.scan;
  const refusal = it.current?.refusal ?? null;
  const title = it.is === "misread" ? w.misread : refusal ? w.wrong : w.unknown;
  return (
    <Sheet title={title}>
      <div class="scan-said" role="alert" data-testid="scan-said">
        <Shape name={it.is === "unknown" ? "note" : "fail"} />
        <div>
          <p class="far">{refusal ? refusal.detail : it.is === "misread" ? it.misread : w.unknownMore(it.text)}</p>
          <p>{refusal ? refusal.remedy : it.is === "misread" ? w.misreadMore : ""}</p>
        </div>
      </div>
      <div class="row">
        <button type="button" class="solid" autoFocus onClick={shut}>
          {w.ok}
        </button>
      </div>
    </Sheet>
  );
}

/** Listens for scans while the board is there: the lot of the addition, or why it is not that. */
export function BoardScans() {
  useScans((scan) => {
    const addition = current.peek();
    const refusal = scan.current?.refusal ?? null;
    // Scanned into the lot's own field, a code that nobody booked in is the lot as it stands on the pack.
    const asked = dialog.peek() === "lot" && scan.is === "unknown";
    const code = scan.lot || scan.supplier_lot || (asked ? scan.text : "");
    if (addition === null) return;
    // What an earlier scan said is over.
    if (dialog.peek() === "scan") shut();
    if (refusal?.code === "past-best-before") {
      begun.value = code;
      refused.value = refusal.code;
      complaint.value = words.refusal(refusal.code, refusal.detail, refusal.remedy);
      dialog.value = "lot";
    } else if (refusal || scan.is === "misread" || (scan.is === "unknown" && !code)) {
      said.value = scan;
      dialog.value = "scan";
    } else if (!code || code === addition.lot) {
      begun.value = "";
      if (!code) dialog.value = "lot";
    } else if (addition.lot !== "" && someIsIn()) {
      begun.value = code; // whether it ran out or was the wrong one, only the cook knows
      dialog.value = "lot";
    } else
      void command("name lot", { lot: code }).then((taken) => {
        if (taken && dialog.peek() === "lot") shut();
      });
  });
  return null;
}

/** The lot's dialog, opened by a person and not by a scan. */
export function openLot(): void {
  begun.value = "";
  dialog.value = "lot";
}
