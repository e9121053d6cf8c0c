// The first weighing is seldom walked, so its screens are brought when they are needed.

import { useEffect, useState } from "preact/hooks";
import { first, type FirstStep } from "../core/first.ts";

type Screens = typeof import("./first.tsx");

export function FirstScreen({ step }: { step: FirstStep | null }) {
  const [screens, bring] = useState<Screens | null>(null);
  const [failed, fail] = useState(false);
  useEffect(() => {
    import("./first.tsx").then(bring, () => fail(true));
  }, []);
  if (screens !== null) return <screens.First step={step} />;
  return (
    <main class="page narrow">
      <p class={failed ? "complaint" : "soft"}>{failed ? first.failed : first.loading}</p>
    </main>
  );
}
