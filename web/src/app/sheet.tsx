// A sheet over the page, and what is wrong with what was written in it.

import type { ComponentChildren } from "preact";
import { useLayoutEffect, useRef } from "preact/hooks";
import { words } from "../core/words.ts";
import { dialog } from "./store.ts";

/** Close whatever dialog is open. */
export const shut = () => {
  dialog.value = null;
};

export function Sheet({ title, children }: { title: string; children: ComponentChildren }) {
  const ref = useRef<HTMLDialogElement>(null);
  const gone = useRef(false);
  useLayoutEffect(() => {
    const it = ref.current;
    it?.showModal();
    return () => {
      gone.current = true;
      it?.close(); // gives the focus back to where it was
    };
  }, []);
  return (
    <dialog
      class="sheet"
      ref={ref}
      aria-label={title}
      onClose={() => gone.current || shut()}
      onClick={(e) => {
        if (e.target === ref.current) shut();
      }}
    >
      <div class="sheet-body">
        <header>
          <h2>{title}</h2>
          <button type="button" class="plain" onClick={shut}>
            {words.close}
          </button>
        </header>
        {children}
      </div>
    </dialog>
  );
}

export function Complaint({ text }: { text: string }) {
  return text ? (
    <p class="complaint" role="alert">
      {text}
    </p>
  ) : null;
}
