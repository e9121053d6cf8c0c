// What is told where the station did not do or say what it was asked.

import type { Answer, Problem } from "./commands.ts";
import { refusal } from "./refusals.ts";
import { words } from "./words.ts";

/** Why something was refused. */
export const refusedAs = (it: Problem): string => refusal(it.code, it.detail, it.remedy);

/** Why a question has no answer; empty for one that has. */
export function unanswered(answer: Answer<unknown>): string {
  return answer.kind === "ok" ? "" : answer.kind === "refused" ? refusedAs(answer.problem) : words.noAnswer;
}

/** Why something was not done; empty where it was. */
export function undone(answer: Answer<unknown>): string {
  return answer.kind === "unreachable" ? words.unreachable : unanswered(answer);
}
