// A screen that is seldom wanted comes when it is: until then it says so, or why it does not come.

import type { FunctionComponent } from "preact";
import { useEffect, useState } from "preact/hooks";
import { words } from "../core/words.ts";
import { Waiting } from "./trouble.tsx";

export function later<P extends object>(bring: () => Promise<{ default: FunctionComponent<P> }>): FunctionComponent<P> {
  let there: FunctionComponent<P> | null = null;
  return function Later(props: P) {
    const [round, next] = useState(0);
    const [failed, fail] = useState(false);
    useEffect(() => {
      if (there !== null) return;
      let mine = true;
      bring().then(
        (come) => {
          there = come.default;
          if (mine) next((n) => n + 1);
        },
        () => mine && fail(true),
      );
      return () => {
        mine = false;
      };
    }, [failed]);
    void round;
    if (there !== null) {
      const It = there;
      return <It {...props} />;
    }
    if (!failed) return <Waiting />;
    return (
      <>
        <p class="complaint" role="alert">
          {words.unreachable}
        </p>
        <button type="button" class="solid" onClick={() => fail(false)}>
          {words.again}
        </button>
      </>
    );
  };
}
