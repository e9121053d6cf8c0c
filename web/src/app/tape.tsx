// The approach tape, drawn in percentages so that it fills whatever width it is given.

import { computed } from "@preact/signals";
import { useMemo } from "preact/hooks";
import type { Addition } from "../core/frames.ts";
import { drawn as drawnIn, number, unitFor } from "../core/numbers.ts";
import { doubt, tape } from "../core/tape.ts";
import { words } from "../core/words.ts";
import { fresh, guidance, live } from "./store.ts";

const percent = (at: number) => `${(at * 100).toFixed(3)}%`;

export function ApproachTape({ addition }: { addition: Addition }) {
  const { target_g, low_g, high_g } = addition;
  const drawn = useMemo(() => {
    // Drawn in the unit that is shown, so that its marks are round numbers there.
    const unit = unitFor(target_g);
    const inUnit = (grams: string) => drawnIn(Number(grams), unit);
    const it = tape(inUnit(target_g), inUnit(low_g), inUnit(high_g));
    const net = computed(() => {
      const text = live.value?.net_g ?? null;
      return fresh.value && text !== null && live.value?.phase !== "awaiting vessel" ? inUnit(text) : null;
    });
    const at = computed(() => (net.value === null ? 0 : it.place(net.value)));
    const level = computed(() => percent(at.value));
    // Where it lands if the cook stops now: never short of where it already is.
    const lands = computed(() => {
      const text = guidance.value?.landing_g ?? null;
      return net.value === null || text === null ? null : Math.max(at.value, it.place(inUnit(text)));
    });
    // The mark is as wide as what is not known of it.
    const unsure = computed(() => (net.value === null ? null : doubt(live.value, guidance.value)));
    const side = (way: -1 | 1) => it.place(inUnit(String((unsure.value?.at ?? 0) + way * (unsure.value?.by ?? 0))));
    const from = computed(() => (unsure.value === null ? 0 : side(-1)));
    const until = computed(() => (unsure.value === null ? 0 : side(1)));
    return {
      it,
      unsure: computed(() => `tape-doubt ${unsure.value === null ? "tape-nowhere" : unsure.value.lands ? "tape-landing" : ""}`),
      from: computed(() => percent(from.value)),
      until: computed(() => percent(until.value)),
      top: computed(() => (unsure.value?.lands ? "33%" : "17%")),
      foot: computed(() => (unsure.value?.lands ? "59%" : "75%")),
      wide: computed(() => percent(until.value - from.value)),
      target: it.place(inUnit(target_g)),
      level,
      landing: computed(() => percent(lands.value ?? 0)),
      ahead: computed(() => percent((lands.value ?? 0) - (lands.value === null ? 0 : at.value))),
      landed: computed(() => (lands.value === null ? "tape-lands tape-nowhere" : "tape-lands")),
      state: computed(() => {
        if (net.value === null) return "tape tape-unknown";
        if (net.value > it.end) return "tape tape-over tape-off-end";
        return net.value > inUnit(high_g) ? "tape tape-over" : "tape";
      }),
    };
  }, [target_g, low_g, high_g]);
  const { it } = drawn;
  return (
    <div class="tape-box still">
      <svg class={drawn.state} role="presentation" aria-hidden="true" data-testid="tape">
        <rect class="tape-track" x="0" y="26%" width="100%" height="40%" rx="8" />
        <rect class="tape-notch" x={percent(it.low)} y="12%" width={percent(it.high - it.low)} height="68%" />
        <rect class="tape-level" x="0" y="26%" width={drawn.level} height="40%" rx="8" />
        <g class={drawn.unsure} data-testid="doubt">
          <rect x={drawn.from} y="17%" width={drawn.wide} height="58%" />
          <line class="tape-span" x1={drawn.from} x2={drawn.until} y1="46%" y2="46%" />
          <line x1={drawn.from} x2={drawn.from} y1={drawn.top} y2={drawn.foot} />
          <line x1={drawn.until} x2={drawn.until} y1={drawn.top} y2={drawn.foot} />
        </g>
        <line class="tape-target" x1={percent(drawn.target)} x2={percent(drawn.target)} y1="12%" y2="80%" />
        {[it.low, it.high].map((at) => (
          <line class="tape-post" key={at} x1={percent(at)} x2={percent(at)} y1="8%" y2="84%" />
        ))}
        {it.marks.map((mark) => (
          <g key={mark.to_go}>
            <line class="tape-mark" x1={percent(mark.at)} x2={percent(mark.at)} y1="66%" y2="76%" />
            <text class="tape-text" x={percent(mark.at)} y="97%">
              {number(String(mark.to_go))}
            </text>
          </g>
        ))}
        <text class="tape-text tape-zero" x={percent((it.low + it.high) / 2)} y="99%">
          {words.weigh.target}
        </text>
        <g class={drawn.landed} data-testid="landing">
          <rect x={drawn.level} y="26%" width={drawn.ahead} height="40%" />
          <svg x={drawn.landing} y="46%" overflow="visible">
            <path d="M0-13l13 13L0 13-13 0z" />
          </svg>
        </g>
        <svg class="tape-more" x="100%" y="46%" overflow="visible">
          <path d="M-34-13l13 13-13 13M-20-13l13 13-13 13" />
        </svg>
        <svg class="tape-edge" x={drawn.level} y="0" overflow="visible">
          <path d="M-13 0h26L0 20z" />
          <line x1="0" x2="0" y1="4" y2="66%" />
        </svg>
      </svg>
    </div>
  );
}
