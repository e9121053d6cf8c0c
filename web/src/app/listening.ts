// What a live link needs of the browser: a socket, timers, and to be told when it is worth knocking again.

import type { Link, Socket, Timers } from "../core/link.ts";

/** Opens sockets to `path` of the station that this page is of. */
export const socketTo = (path: string) => (): Socket => {
  const url = new URL(path, document.baseURI);
  url.protocol = url.protocol === "https:" ? "wss:" : "ws:";
  return new WebSocket(url) as unknown as Socket;
};

export const timers: Timers = {
  after: (ms, call) => setTimeout(call, ms),
  cancel: (timer) => clearTimeout(timer as number),
  chance: () => Math.random(),
};

/** Begin, and knock at once when the network is back or somebody looks again; returns how to end. */
export function listen(link: Pick<Link, "start" | "stop" | "retry">): () => void {
  const online = () => link.retry();
  const looked = () => document.hidden || link.retry();
  addEventListener("online", online);
  document.addEventListener("visibilitychange", looked);
  link.start();
  return () => {
    removeEventListener("online", online);
    document.removeEventListener("visibilitychange", looked);
    link.stop();
  };
}
