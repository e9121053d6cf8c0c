// Labels: how many, of what, in which size; shown as they are printed, by the browser or as PDF.

import { useEffect, useLayoutEffect, useRef, useState } from "preact/hooks";
import { asPdf, labelFoot, labels as w, labelsPath, letters, pageRule, placed, type LabelForm, type Labels, type LabelShown } from "../core/labels.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { useAsked, useSettled } from "./ask.ts";
import { Field, Pick } from "./fields.tsx";
import { recall, remember } from "./store.ts";
import { Trouble } from "./trouble.tsx";

/** The page of the printer is as large as the sheet while these labels are shown. */
function usePage(it: Labels | null): void {
  const rule = it === null ? "" : pageRule(it);
  useEffect(() => {
    if (!rule) return;
    const sheet = new CSSStyleSheet();
    sheet.replaceSync(rule);
    document.adoptedStyleSheets = [...document.adoptedStyleSheets, sheet];
    return () => {
      document.adoptedStyleSheets = document.adoptedStyleSheets.filter((one) => one !== sheet);
    };
  }, [rule]);
}

function Label({ it, wide, high }: { it: LabelShown; wide: number; high: number }) {
  const code = Math.min(Math.max((it.modules + 8) * 0.4, Math.min(0.34 * (wide - 4), 0.62 * (high - 4), 34)), wide - 4);
  return (
    <>
      <svg class="label-code" viewBox={`-4 -4 ${it.modules + 8} ${it.modules + 8}`} style={{ width: `${code}mm`, height: `${code}mm` }} role="img" aria-label={it.scanned}>
        <path d={it.path} />
      </svg>
      <p class="label-name">{it.name}</p>
      <p class="label-lot">{it.code}</p>
      {it.facts.map(([word, what]) => (
        <p key={word}>
          {word} <b>{what}</b>
        </p>
      ))}
      {it.contains && <p class="label-allergens">{it.contains}</p>}
      <p class="label-foot">{labelFoot(it)}</p>
    </>
  );
}

/** Counts up when a font has come: letters are then as wide as they will be printed. */
function useFonts(): number {
  const [count, set] = useState(0);
  useEffect(() => {
    const came = () => set((n) => n + 1);
    document.fonts.addEventListener("loadingdone", came);
    return () => document.fonts.removeEventListener("loadingdone", came);
  }, []);
  return count;
}

/** The sheets as they are printed. Letters are made smaller until the first and the last label fit: they
 *  differ in a number and a weight only. */
function Sheets({ it, fits }: { it: Labels; fits(so: boolean): void }) {
  const here = useRef<HTMLDivElement>(null);
  const [pt, set] = useState(letters(it)[0]!);
  const fonts = useFonts();
  const sheets = placed(it);
  const [wide, high] = [Number(it.mm.wide), Number(it.mm.high)];
  useLayoutEffect(() => {
    const all = [...(here.current?.querySelectorAll<HTMLElement>(".sticker") ?? [])];
    const some = [all[0], all[all.length - 1]].filter((one) => one !== undefined);
    const found = letters(it).find((size) =>
      some.every((one) => {
        one.style.fontSize = `${size}pt`;
        return one.scrollHeight <= one.clientHeight && one.scrollWidth <= one.clientWidth;
      }),
    );
    for (const one of some) one.style.fontSize = "";
    set(found ?? letters(it)[letters(it).length - 1]!);
    fits(found !== undefined);
  }, [it, fonts]);
  return (
    <div class="label-sheets" ref={here} style={{ fontSize: `${pt}pt` }} data-testid="label-sheets">
      {sheets.map((some, n) => (
        <div class="label-page" key={n} style={{ width: `${Number(it.sheet.page.wide)}mm`, height: `${Number(it.sheet.page.high)}mm` }}>
          {some.map(({ label, left, top }, at) => (
            <div class="sticker" lang="en" key={at} style={{ left: `${left}mm`, top: `${top}mm`, width: `${wide}mm`, height: `${high}mm` }}>
              <Label it={label} wide={wide} high={high} />
            </div>
          ))}
        </div>
      ))}
    </div>
  );
}

export function LabelsScreen({ of, id }: { of: "batch" | "lot"; id: string }) {
  const [form, keep] = useState<LabelForm>({ of: "batch", copies: "1", each: "", size: recall("label.size") });
  const [fit, say] = useState(true);
  const path = labelsPath(of, id, useSettled(form));
  const asked = useAsked<Labels>(path);
  const last = useRef<Labels | null>(null);
  if (asked.value) last.current = asked.value;
  const it = last.current;
  usePage(it);
  if (it === null && asked.problem?.where !== "size") return <Trouble title={w.title(id)} asked={asked} back={{ at: of === "batch" ? to.record(id) : to.lot(id), name: w.back }} />;
  const set = (name: keyof LabelForm) => (text: string) => {
    keep((now) => ({ ...now, [name]: text }));
    if (name === "size") remember("label.size", text);
  };
  const where = asked.problem?.where.replace(/^query\./, "") ?? "";
  const fault = (name: string) => (where === name ? asked.trouble : undefined);
  const containers = it?.usual?.containers ?? 0;
  const pages = it === null ? 0 : placed(it).length;
  const sizes = it?.sizes ?? [];
  return (
    <main class="page labels">
      <h1 class="no-print">{w.title(id)}</h1>
      <form class="labels-form no-print" onSubmit={(e) => e.preventDefault()}>
        {of === "batch" && containers > 0 && (
          <Pick
            label={w.of}
            name="of"
            value={form.of}
            options={[
              ["batch", w.ofBatch],
              ["draws", w.ofDraws(containers)],
            ]}
            pick={set("of")}
            fault={fault("of")}
          />
        )}
        {form.of === "batch" && <Field label={w.copies} name="copies" value={form.copies} type={set("copies")} fault={fault("copies")} number />}
        {of === "batch" && <Field label={w.each} hint={w.eachHint(it?.usual?.net ?? "")} name="each" value={form.each} type={set("each")} fault={fault("each")} />}
        <Pick
          label={w.size}
          name="size"
          value={form.size || (it?.size ?? "")}
          options={sizes.map((one): [string, string] => [one, w.sizeOf(one)])}
          pick={set("size")}
          fault={fault("size") ?? (fit ? undefined : w.tooSmall)}
        />
      </form>
      {asked.trouble && !["of", "copies", "each", "size"].includes(where) && (
        <p class="complaint no-print" role="alert">
          {asked.trouble}
        </p>
      )}
      {it !== null && it.not_in_fonts.length > 0 && <p class="warning no-print">{w.notInFonts(it.not_in_fonts)}</p>}
      <p class="soft no-print">{w.legal}</p>
      <div class="row no-print">
        <a class="plain" href={of === "batch" ? to.record(id) : to.lot(id)}>
          {w.back}
        </a>
        <a class="plain" href={asPdf(path)} download={`labels-${id}.pdf`}>
          {w.pdf}
        </a>
        <button type="button" class="solid" disabled={it === null || !fit || asked.trouble !== ""} onClick={() => print()}>
          {w.print}
        </button>
      </div>
      {it !== null && (
        <>
          <p class="soft no-print" role="status">
            {w.count(it.labels.length, pages)}
          </p>
          <Sheets it={it} fits={say} />
        </>
      )}
      <p class="visually-hidden">{words.legal}</p>
    </main>
  );
}
