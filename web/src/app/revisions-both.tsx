// Two revisions of a formula side by side; on a phone one below the other, with what differs in place.

import type { ComponentChildren } from "preact";
import { useState } from "preact/hooks";
import type { Limits } from "../core/drafts.ts";
import { type AdditionPair, type Compared, type History, type Mark, markOf, MARKS, type Revision, revisions as w, type StepPair } from "../core/revisions.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { useAsked, useNewest } from "./ask.ts";
import { Curves } from "./curves.tsx";
import { Pick } from "./fields.tsx";
import { Asking } from "./revisions.tsx";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";

/** A table of both sides; each row says what became of it. */
function Table({ first, children, wide = true }: { first: string; children: ComponentChildren; wide?: boolean }) {
  return (
    <table>
      <thead>
        <tr>
          <th scope="col">{first}</th>
          <th scope="col">{w.before}</th>
          <th scope="col">{w.after}</th>
          {wide && <th scope="col">{w.change}</th>}
        </tr>
      </thead>
      <tbody>{children}</tbody>
    </table>
  );
}

/** By how much, and what became of it: a mark and a word. */
function Told({ mark, said, by = "", points = "" }: { mark: Mark | "unknown"; said?: string; by?: string; points?: string }) {
  return (
    <td class="change">
      {(by || points) && (
        <span class="by">
          {by && <b>{by}</b>} {points && <small>{points}</small>}
        </span>
      )}
      <span class="told">
        <i aria-hidden="true">{mark === "unknown" ? "?" : MARKS[mark]}</i> {said ?? (mark === "unknown" ? "" : w.mark(mark))}
      </span>
    </td>
  );
}

function Cell({ col, there, main, more }: { col: string; there: boolean; main: string; more?: string }) {
  return (
    <td data-col={col}>
      {there ? main && <Said text={main} /> : <span class="soft">{w.missing}</span>}
      {there && more && <small>{more}</small>}
    </td>
  );
}

function Addition({ it }: { it: AdditionPair }) {
  const mark = markOf(it);
  return (
    <tr data-told={mark} data-ingredient={it.ingredient}>
      <th scope="row">
        {it.name}
        {it.moved && <small>{w.place(it.then!.n, it.now!.n)}</small>}
        {it.texts.map((one) => (
          <small key={one.of}>{w.text(one)}</small>
        ))}
        {it.facts.map((one) => (
          <small key={one.of}>{w.fact(words.pantry.call(one.of), one)}</small>
        ))}
      </th>
      <Cell col={w.before} there={it.then !== null} main={w.amount(it.then)} more={w.share(it.then)} />
      <Cell col={w.after} there={it.now !== null} main={w.amount(it.now)} more={w.share(it.now)} />
      <Told mark={mark} by={w.grams(it)} points={w.points(it)} />
    </tr>
  );
}

function Step({ it }: { it: StepPair }) {
  const mark = markOf(it);
  return (
    <tr data-told={mark}>
      <th scope="row">
        {it.name}
        {it.moved && <small>{w.place(it.then!.n, it.now!.n)}</small>}
        {it.texts
          .filter((one) => one.of !== "limits")
          .map((one) => (
            <small key={one.of}>{w.text(one)}</small>
          ))}
      </th>
      <Cell col={w.before} there={it.then !== null} main={w.asked(it.then?.limits ?? "")} />
      <Cell col={w.after} there={it.now !== null} main={w.asked(it.now?.limits ?? "")} />
      <Told mark={mark} />
    </tr>
  );
}

function What({ it }: { it: Compared }) {
  const differ = it.additions.filter((one) => markOf(one) !== "same" || one.moved).length;
  return (
    <section class="as-weighed beside" data-testid="what">
      <h2>{w.what}</h2>
      {(["new", "gone"] as const).map(
        (key) =>
          it.allergens[key].length > 0 && (
            <p class={key === "new" ? "warning" : "hint"} key={key}>
              {key === "new" && <Shape name="warn" />}
              {w.allergens[key](it.allergens[key])}
            </p>
          ),
      )}
      <p>{it.nothing ? w.nothing : it.only_size ? w.onlySize : w.counted(differ, it.additions.length)}</p>
      {it.texts.length > 0 && (
        <div class="said">
          <Table first={w.texts} wide={false}>
            {it.texts.map((one) => (
              <tr key={one.of} data-told="changed">
                <th scope="row">{w.of(one.of)}</th>
                <td data-col={w.before}>{one.then || w.noText}</td>
                <td data-col={w.after}>{one.now || w.noText}</td>
              </tr>
            ))}
          </Table>
        </div>
      )}
      <Table first={w.additions}>
        {it.additions.map((one) => (
          <Addition key={`${one.then?.n}/${one.now?.n}`} it={one} />
        ))}
        <tr class="whole" data-told={Number(it.change_g) ? "changed" : "same"}>
          <th scope="row">{w.all}</th>
          <td data-col={w.before}>{w.amount({ n: 0, share: "", tolerance: "", target_g: it.then.batch_g })}</td>
          <td data-col={w.after}>{w.amount({ n: 0, share: "", tolerance: "", target_g: it.now.batch_g })}</td>
          <Told mark={Number(it.change_g) > 0 ? "more" : Number(it.change_g) < 0 ? "less" : "same"} by={w.grams(it)} />
        </tr>
      </Table>
      {it.steps.length > 0 && (
        <div class="said">
          <Table first={w.steps}>
            {it.steps.map((one) => (
              <Step key={`${one.then?.n}/${one.now?.n}`} it={one} />
            ))}
          </Table>
        </div>
      )}
    </section>
  );
}

function Comes({ it, kind, hold }: { it: Compared; kind: string; hold(kind: string): void }) {
  const classes = useAsked<Limits>("api/limits");
  const limits = w.limits(it);
  return (
    <section class="as-weighed beside" data-testid="comes">
      <h2>{w.comes}</h2>
      <Curves it={it} />
      <Table first={w.quantity}>
        {w.rows(it).map((row) => (
          <tr key={row.key} data-told={row.mark}>
            <th scope="row">{row.name}</th>
            <td data-col={w.before}>{row.planned}</td>
            <td data-col={w.after}>{row.weighed}</td>
            <Told mark={row.mark} said={row.told} by={row.mark === "same" || row.mark === "unknown" ? "" : row.change} />
          </tr>
        ))}
      </Table>
      <Pick
        name="held"
        label={w.held}
        value={kind}
        options={[["", w.own], ...(classes.value?.classes ?? []).filter((one) => one.id !== classes.value!.every).map((one): [string, string] => [one.id, one.name])]}
        pick={hold}
      />
      {it.unknown_class && <p class="hint">{w.unknownClass(it.unknown_class)}</p>}
      <p>{it.limits.length === 0 ? w.noLimits : w.kept(it)}</p>
      {limits.length > 0 && (
        <div class="said">
          <Table first={w.limit} wide={false}>
            {limits.map((one) => (
              <tr key={one.key} data-told="changed">
                <th scope="row">
                  {one.name}
                  <small>
                    {w.usual} <Said text={one.asked} />
                  </small>
                </th>
                <td data-col={w.before}>{one.then}</td>
                <td data-col={w.after}>
                  {one.outside && <Shape name="warn" />} {one.now}
                </td>
              </tr>
            ))}
          </Table>
        </div>
      )}
      {w.unsure(it) && <p class="hint">{w.unsure(it)}</p>}
      <p class="soft">
        {w.prices(it)} <Said text={w.method(it)} />
      </p>
    </section>
  );
}

interface SideProps {
  label: string;
  name: string;
  formula: string;
  all: Revision[];
  chosen: string;
  pick(revision: string): void;
}

/** Which revision stands on a side, and what can be done with it. */
function Side({ label, name, formula, all, chosen, pick }: SideProps) {
  const it = all.find((one) => one.revision === chosen || (chosen.length > 3 && one.revision.startsWith(chosen)));
  return (
    <div class="side" data-testid={`side-${name}`}>
      <Pick name={name} label={label} value={it?.revision ?? chosen} options={all.map((one) => [one.revision, w.called(one)])} pick={pick} />
      {it && (
        <p class="soft">
          {it.met[0] && `${w.met(it.met[0])}, `}
          {w.batches(it.batches.count)}
        </p>
      )}
      {it && (it.now ? <p class="hint">{w.isNow}</p> : <a class="plain" href={to.takeUp(formula, it.revision)}>{w.again}</a>)}
    </div>
  );
}

export default function Both({ formula, then, now }: { formula: string; then: string; now: string }) {
  const base = `api/formulas/${encodeURIComponent(formula)}`;
  const [kind, hold] = useState("");
  const history = useAsked<History>(`${base}/revisions`);
  const query = new URLSearchParams({ then, now, ...(kind ? { kind } : {}) }).toString();
  const asked = useAsked<Compared>(`${base}/changes?${query}`);
  const newest = useNewest(asked, formula);
  const it = asked.trouble ? null : newest.value; // asked anew, it stays as it was until then
  if (it === null || history.value === null) {
    return <Asking title={w.both} asked={history.trouble && !asked.trouble ? history : asked} />;
  }
  const all = history.value.revisions;
  const go = (before: string, after: string) => (location.hash = to.both(formula, before, after));
  return (
    <article class="both" data-testid="both" aria-busy={asked.value === null}>
      <header class="pantry-head">
        <h1>
          <small>{w.both}</small>
          {it.name}
        </h1>
        <a class="plain" href={to.revisions(formula)}>
          {w.toList}
        </a>
      </header>
      <div class="sides">
        <Side label={w.before} name="then" formula={formula} all={all} chosen={it.then.revision} pick={(one) => go(one, it.now.revision)} />
        <Side label={w.after} name="now" formula={formula} all={all} chosen={it.now.revision} pick={(one) => go(it.then.revision, one)} />
      </div>
      <What it={it} />
      <Comes it={it} kind={kind} hold={hold} />
    </article>
  );
}
