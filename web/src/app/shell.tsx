// What stands round every screen: the bar, the banners, the notices, the foot.

import { devices } from "../core/devices.ts";
import { finding } from "../core/finding.ts";
import { way } from "../core/locale.ts";
import { type Route, to } from "../core/routes.ts";
import { stray } from "../core/stray.ts";
import { words } from "../core/words.ts";
import { Additions } from "./additions.tsx";
import { Announcer } from "./announce.tsx";
import { CheckScreen } from "./check.tsx";
import { DevicesScreen } from "./devices.tsx";
import { Dialogs } from "./dialogs.tsx";
import { FindScreen } from "./find.tsx";
import { FloorScreen } from "./floor.tsx";
import { Done } from "./done.tsx";
import { FirstHint, WalkLine } from "./first-hint.tsx";
import { FirstScreen } from "./first-screen.tsx";
import { Knock } from "./knock.tsx";
import { LabelsScreen } from "./labels.tsx";
import { BoardScans } from "./lot-dialogs.tsx";
import { LotScreen, Lots, Receive } from "./lots.tsx";
import { OutgoingBanner, OutgoingLine } from "./outgoing.tsx";
import { PantryScreen } from "./pantry.tsx";
import { PeopleScreen } from "./people.tsx";
import { PersonButton, PersonSheets } from "./person.tsx";
import { type Place, places } from "./places.ts";
import { Record } from "./record.tsx";
import { ProcessScreen } from "./process.tsx";
import { Records } from "./records.tsx";
import { Said } from "./said.tsx";
import { Scales } from "./scales.tsx";
import { astray } from "./scanner.ts";
import { Settings } from "./settings.tsx";
import { Shape } from "./shapes.tsx";
import { Simulation } from "./simulation.tsx";
import { SoundSwitch } from "./sound.tsx";
import { Stage } from "./stage.tsx";
import { Start } from "./start.tsx";
import { TraceScreen } from "./trace.tsx";
import { Trend, Trends } from "./trends.tsx";
import { Wall } from "./wall.tsx";
import { WallDoor } from "./wall-door.tsx";
import { batch, dialog, inProcess, link, onWall, people, putAway, requests, route, shut, stance, station, theLink } from "./store.ts";
import { NotHeard } from "./trouble.tsx";
import { bridging, unscaled, walk } from "./walk.ts";

/** Whether a place has something to show: else it takes no room in the bar. */
function used(it: Place, here: string): boolean {
  if (it.id === here) return true;
  if (it.id === "process") return inProcess.value.batches.length > 0;
  return it.id !== "floor" || station.value?.floor === true;
}

function Bar() {
  const here = route.value.screen;
  const made = inProcess.value.batches.length;
  return (
    <header class="bar">
      <a class="bar-name" href={to.bench()}>
        <img src="./icon.svg" alt="" width="32" height="32" />
        <span>{station.value?.name ?? words.title}</span>
      </a>
      <nav aria-label={words.nav.label}>
        {places()
          .filter((it) => it.screens && used(it, here))
          .map((it) => (
            <a key={it.id} href={it.at} aria-current={it.screens!.includes(here) ? "page" : undefined} data-testid={`nav-${it.id}`}>
              {it.name}
              {it.id === "process" && made > 0 && <b class="bar-count">{made}</b>}
            </a>
          ))}
      </nav>
      <a class="plain bar-find" href={to.find()} aria-label={finding.title} aria-current={here === "find" ? "page" : undefined}>
        <Shape name="find" />
      </a>
      <PersonButton />
      <SoundSwitch />
      <button type="button" class="plain bar-menu" onClick={() => (dialog.value = "menu")}>
        {words.menu}
      </button>
    </header>
  );
}

function LinkBanner() {
  if (link.value === "live" || bridging.value || (link.value === "connecting" && station.value === null)) return null;
  if (station.value === null && TOLD[route.value.screen]) return null; // the screen itself says it
  return (
    <div class="banner banner-lost" data-testid="banner-lost">
      <Shape name="lost" />
      <p>
        <strong>{words.link.lost}</strong>
        <span>{words.link.lostMore}</span>
      </p>
      <button type="button" class="plain" onClick={() => theLink.retry()}>
        {words.link.retry}
      </button>
    </div>
  );
}

/** This device changes nothing, whoever is at it. */
function OnlyLooks() {
  if (people.value.device?.may !== "look") return null;
  return (
    <div class="banner banner-info" data-testid="only-looks">
      <Shape name="note" />
      <p>
        <span>{devices.only}</span>
      </p>
    </div>
  );
}

/** A scan with which nothing was done; in a dialog it is said there. */
function Astray() {
  if (!astray.value || dialog.value !== null) return null;
  return (
    <div class="banner banner-warn" role="status" data-testid="astray">
      <Shape name="note" />
      <p>
        <span>{astray.value}</span>
      </p>
      <button type="button" class="plain" onClick={() => (astray.value = "")}>
        {stray.dismiss}
      </button>
    </div>
  );
}

function Notices() {
  const it = station.value;
  if (it === null) return null;
  // Put away here at once, and at the station for every page; a new start counts its notices anew.
  const mark = (id: string) => `${it.boot}/${id}`;
  // While the record fails, its own banner says so; the notice of it is for afterwards.
  const later = (code: string) => !it.store.ok && code.startsWith("store-");
  const seen = it.notices.filter((n) => !later(n.code) && !putAway.value.has(mark(n.id)));
  const dismiss = (id: string) => {
    putAway.value = new Set([...putAway.value, mark(id)]);
    void requests.send(`api/notices/${encodeURIComponent(id)}/dismiss`, {});
  };
  return (
    <>
      {!it.store.ok && (
        <div class="banner banner-error" role="alert">
          <Shape name="warn" />
          <p>
            <strong>{words.store}</strong>
            <span>
              <Said text={words.refusal(it.store.code, it.store.text, "")} />
            </span>
          </p>
        </div>
      )}
      {seen.map((n) => (
        <div class={`banner banner-${n.level}`} key={n.id} data-testid={`notice-${n.id}`}>
          <Shape name={n.level === "info" ? "note" : "warn"} />
          <p>
            <span>
              <Said text={words.notice(n.code, n.text)} />
            </span>
          </p>
          <button type="button" class="plain" onClick={() => dismiss(n.id)}>
            {words.dismiss}
          </button>
        </div>
      ))}
    </>
  );
}

/** Screens that only show what the station tells all the time, with their titles. */
const TOLD: Partial<Record<Route["screen"], () => string>> = {
  bench: () => words.nav.bench,
  process: () => words.process.nav,
  scales: () => words.nav.scales,
  check: () => words.nav.scales,
};

function Bench() {
  void stance.value;
  const it = batch.value;
  if (station.value === null) return <NotHeard title={words.nav.bench} />;
  if (it === null) return null;
  if (it.status !== "open") return <Done batch={it} />;
  return (
    <main class="weigh">
      <BoardScans />
      <Stage />
      <Additions />
    </main>
  );
}

function Screen() {
  const it = route.value;
  const title = station.value === null ? TOLD[it.screen]?.() : undefined;
  if (title) return <NotHeard title={title} />;
  const nothingYet = it.screen === "bench" && station.value !== null && batch.value === null;
  if (it.screen === "first" || (nothingYet && (unscaled.value || walk.value === "on"))) {
    return <FirstScreen step={it.screen === "first" ? it.step : null} />;
  }
  // One and the same screen before and after a formula is chosen: what it asked for, it keeps.
  if (it.screen === "start" || nothingYet) return <Start wanted={it.screen === "start" ? it : null} />;
  switch (it.screen) {
    case "bench":
      return <Bench />;
    case "process":
      return <ProcessScreen batch={it.batch} />;
    case "records":
      return <Records />;
    case "record":
      return <Record key={it.batch} batch={it.batch} />;
    case "people":
      return <PeopleScreen />;
    case "devices":
      return <DevicesScreen />;
    case "lots":
      return <Lots />;
    case "lot":
      return <LotScreen key={it.lot} lot={it.lot} />;
    case "receive":
      return <Receive />;
    case "labels":
      return <LabelsScreen key={`${it.of}/${it.id}`} of={it.of} id={it.id} />;
    case "trace":
      return <TraceScreen lot={it.lot} />;
    case "trends":
      return <Trends by={it.by} />;
    case "trend":
      return <Trend by={it.by} of={it.of} />;
    case "scales":
      return <Scales />;
    case "find":
      return <FindScreen />;
    case "settings":
      return <Settings />;
    case "floor":
      return <FloorScreen />;
    case "wall":
      return <WallDoor />;
    case "check":
      return <CheckScreen key={it.scale} scale={it.scale} />;
    default:
      return <PantryScreen it={it} />;
  }
}

export function Shell() {
  if (shut.value) return <Knock />;
  if (onWall.value) return <Wall />;
  return (
    <>
      <Bar />
      <div class="banners" role="region" aria-label={words.banners}>
        <LinkBanner />
        <OnlyLooks />
        <Astray />
        <OutgoingBanner />
        <Notices />
        <WalkLine />
        <FirstHint />
      </div>
      <div class="middle">
        <div class="screen">
          <Screen />
          <footer class="foot">
            <OutgoingLine />
            {words.legal} {way.showing !== "g" && <span data-testid="units-note">{words.settings.note(words.settings.short(way.showing))}</span>}{" "}
            {station.value && `weighd ${station.value.version}`}
          </footer>
        </div>
        <Simulation />
      </div>
      <Dialogs />
      <PersonSheets />
      <Announcer />
    </>
  );
}
