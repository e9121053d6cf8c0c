"""A pretend station for the page's tests: serves the built page and says what the test tells it.

It speaks the station's REST and websocket shapes, acts on nothing, and writes down what the
page asked of it. Frames come from ``fixtures/frames``, which the page's own tests read too.
"""

from __future__ import annotations

import asyncio
import copy
import json
import socket
import threading
import time
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import matplotlib as mpl
import uvicorn
from fastapi import FastAPI, Request, Response, WebSocket, WebSocketDisconnect
from fastapi.responses import JSONResponse
from starlette.staticfiles import StaticFiles

from weighd.http.gate import CONTENT_POLICY

ROOT = Path(__file__).resolve().parents[2]
FRAMES = ROOT / "fixtures" / "frames"
DIST = ROOT / "web" / "weighd_web" / "dist"
#: Letters that are the same on every machine: matplotlib brings them.
FONTS = Path(mpl.get_data_path()) / "fonts" / "ttf"

Picture = dict[str, Any]


def frame(name: str) -> Any:
    """What ``fixtures/frames/NAME.json`` holds."""
    return json.loads((FRAMES / f"{name}.json").read_text(encoding="utf-8"))


def picture(name: str) -> Picture:
    """The state in the recorded snapshot ``name``."""
    state: Picture = frame(name)["state"]
    return state


class FakeDaemon:
    """One pretend station on a loopback port; start, stop and start again keep the port."""

    def __init__(self) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port: int = probe.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"
        self._server: uvicorn.Server | None = None
        self._thread: threading.Thread | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._sockets: set[WebSocket] = set()
        self.forget()

    def forget(self) -> None:
        """Be as new: nothing shown, asked or refused yet."""
        self.state: Picture = picture("no-batch")
        self.seq = 40
        self.beating = True
        self.asked: list[dict[str, Any]] = []
        self.simulated: list[dict[str, Any]] = []
        self.dismissed: list[str] = []
        self.forgotten: list[str] = []
        #: What the history of checks, and the flags of a batch, hold.
        self.checks: list[Any] = []
        self.flags: list[Any] = []
        self.cook = True
        self.resumes: list[dict[str, Any]] = []
        self.formulas: Any = frame("formulas")
        self.record: Any = frame("record")
        #: When formulas were last made; of each additions' stock what a test says, by its number.
        self.made: dict[str, Any] = {}
        self.stock: dict[int, dict[str, Any]] = {}
        self.most: dict[str, str] | None = None
        #: "GET /api/...?..." -> [status, body]: answered before anything else, as a real one did.
        self.told: dict[str, Any] = {}
        #: ``do`` (or "start") -> (status, problem): refused instead of taken.
        self.refusals: dict[str, tuple[int, dict[str, str]]] = {}
        #: So many answers are lost on the way back (the request did arrive).
        self.lose_answers = 0
        #: Answers what the first start asks: a status and a body.
        self.first: Callable[[str, Any], Awaitable[tuple[int, Any]]] | None = None
        #: Called with each command taken, so that a test can move the picture on.
        self.on_command: Callable[[dict[str, Any]], None] = lambda command: None

    # --- what a test says --------------------------------------------------------------------

    def show(self, name_or_state: str | Picture) -> None:
        """Make this the picture, and tell every page that listens."""
        state = (
            picture(name_or_state)
            if isinstance(name_or_state, str)
            else copy.deepcopy(name_or_state)
        )
        self.change(**state)

    def change(self, **sections: Any) -> None:
        """Replace these sections of the picture and tell every page."""
        scales = sections.get("scales")
        self.state.update({k: v for k, v in sections.items() if k != "scales"})
        if scales is not None:
            self.state["scales"] = {**self.state["scales"], **scales}
        self.seq += 1
        self._tell({"kind": "change", "seq": self.seq, **copy.deepcopy(sections)})

    def live(self, **fields: Any) -> None:
        """Change fields of ``live`` alone, as a reading does."""
        self.change(live={**self.state["live"], **fields})

    def say(self, text: str) -> None:
        """Put any text on the wire."""
        self._tell(text)

    @property
    def running(self) -> bool:
        """Whether it listens."""
        return self._thread is not None and self._thread.is_alive()

    def start(self) -> None:
        """Listen; returns when requests are answered."""
        config = uvicorn.Config(
            self._app(),
            host="127.0.0.1",
            port=self.port,
            log_level="critical",
            ws="websockets-sansio",
        )
        config.timeout_graceful_shutdown = 1
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, daemon=True)
        self._thread.start()
        deadline = time.monotonic() + 10
        while not self._server.started:
            if time.monotonic() > deadline:
                raise RuntimeError("the pretend station did not start")
            time.sleep(0.01)

    def stop(self) -> None:
        """Go away as a daemon that died does: every connection is cut."""
        assert self._server is not None
        assert self._thread is not None
        self._server.force_exit = True
        self._server.should_exit = True
        self._thread.join(timeout=10)
        assert not self._thread.is_alive(), "the pretend station did not stop"
        self._sockets.clear()

    # --- what a page sees --------------------------------------------------------------------

    def _tell(self, what: Any) -> None:
        loop = self._loop
        if loop is None or loop.is_closed():
            return
        text = what if isinstance(what, str) else json.dumps(what)

        async def send() -> None:
            for page in list(self._sockets):
                try:
                    await page.send_text(text)
                except (WebSocketDisconnect, RuntimeError):
                    self._sockets.discard(page)  # a page of the test before, closing just now

        asyncio.run_coroutine_threadsafe(send(), loop).result(timeout=5)

    async def _listen(self, page: WebSocket) -> None:
        await page.accept()
        self._loop = asyncio.get_running_loop()
        while not self.beating:  # noqa: ASYNC110 - one that hangs takes the call, and is silent
            await asyncio.sleep(0.05)
        snapshot = {"kind": "snapshot", "seq": self.seq, "state": self.state}
        await page.send_text(json.dumps(snapshot))
        self._sockets.add(page)
        beat = asyncio.create_task(self._beat(page))
        try:
            while True:
                self.resumes.append(json.loads(await page.receive_text()))
                await page.send_text(
                    json.dumps({"kind": "snapshot", "seq": self.seq, "state": self.state})
                )
        except (WebSocketDisconnect, RuntimeError):
            pass
        finally:
            beat.cancel()
            self._sockets.discard(page)

    async def _beat(self, page: WebSocket) -> None:
        while True:
            await asyncio.sleep(0.5)
            if self.beating:
                await page.send_text(json.dumps({"kind": "beat", "seq": self.seq}))

    async def _command(self, request: Request, do: str | None = None) -> Response:
        body = await request.json()
        asked = {
            "path": request.url.path,
            "key": request.headers.get("Idempotency-Key"),
            "body": body,
        }
        again = any(it["key"] == asked["key"] for it in self.asked)
        self.asked.append(asked)
        if self.lose_answers > 0:
            self.lose_answers -= 1
            return Response(status_code=502)
        refusal = self.refusals.get(do or body.get("do", ""))
        if refusal is not None:
            status, problem = refusal
            return JSONResponse(problem, status, media_type="application/problem+json")
        if not again:
            await asyncio.to_thread(self.on_command, body)
        if do == "start":
            return JSONResponse({"batch": "kitchen-0007", "seq": self.seq}, 201)
        return JSONResponse({"seq": self.seq, "entry": 1})

    def _told(self, request: Request) -> Response | None:
        query = f"?{request.url.query}" if request.url.query else ""
        answer = self.told.get(f"{request.method} {request.url.path}{query}")
        return None if answer is None else JSONResponse(answer[1], answer[0])

    def _app(self) -> FastAPI:
        app = FastAPI(docs_url=None, openapi_url=None)

        @app.middleware("http")
        async def policy(request: Request, call: Any) -> Response:
            response: Response = self._told(request) or await call(request)
            response.headers["Content-Security-Policy"] = CONTENT_POLICY
            return response

        app.add_api_websocket_route("/api/live", self._listen)

        self._of_formulas(app)

        @app.get("/api/operators")
        def operators() -> Any:
            return {"operators": ["Ada", "Bo"]}

        @app.post("/api/notices/{name}/dismiss")
        def dismiss(name: str) -> Any:
            self.dismissed.append(name)
            return {"seq": self.seq}

        @app.post("/api/scales/{name}/forget")
        def forget(name: str) -> Any:
            self.forgotten.append(name)
            return {"seq": self.seq}

        @app.get("/api/batches")
        def batches() -> Any:
            return frame("batches")

        @app.get("/api/batches/{name}/record")
        def record(name: str) -> Any:
            if name != self.record["batch"]:
                return JSONResponse({"code": "no-such-batch", "detail": "There is none."}, 404)
            return self.record

        _add_files(app)

        @app.post("/api/batches")
        async def start(request: Request) -> Response:
            return await self._command(request, "start")

        @app.post("/api/batches/{name}/commands")
        async def command(request: Request) -> Response:
            return await self._command(request)

        @app.get("/api/simulation")
        def simulation() -> Any:
            return {"load": {}, "cook": {"working": self.cook, "speed": 1.0}, "pour_g_s": 0}

        @app.post("/api/simulation")
        async def simulate(request: Request) -> Any:
            body = await request.json()
            self.simulated.append(body)
            self.cook = body.get("working", self.cook)
            return simulation()

        @app.post("/api/first/{name}")
        async def first(name: str, request: Request) -> Any:
            if self.first is None:
                return JSONResponse({"code": "no-first-start", "detail": "There is none."}, 404)
            status, body = await self.first(name, await request.json())
            return JSONResponse(body, status)

        self._of_checks(app)
        app.mount("/looked", StaticFiles(directory=FONTS))
        app.mount("/", StaticFiles(directory=DIST, html=True))
        return app

    def _of_formulas(self, app: FastAPI) -> None:
        @app.get("/api/formulas")
        def formulas() -> Any:
            return self.formulas

        @app.get("/api/formulas/{name}")
        def formula(name: str, batch_g: str = "") -> Any:
            if name == "lemon-sorbet":
                return frame("formula-lemon-sorbet")
            found = next((it for it in self.formulas["formulas"] if it["id"] == name), None)
            missing = {"code": "no-such-formula", "detail": f"There is no formula {name}."}
            return found or JSONResponse(missing, 404)

        @app.get("/api/made")
        def made() -> Any:
            return {"made": self.made}

        @app.get("/api/formulas/{name}/stock")
        def stock(name: str) -> Any:
            asked = formula(name)
            if isinstance(asked, Response):
                return asked
            keys = ("n", "ingredient", "name", "target_g", "low_g", "high_g")
            needs = [{key: one[key] for key in keys} for one in asked["additions"]]
            told = [{**one, "stock": "not booked", **self.stock.get(one["n"], {})} for one in needs]
            return {"day": "2026-03-02", "needs": told, "most": self.most}

        @app.get("/api/formulas/{name}/composition")
        def composition(name: str) -> Any:
            return frame("composition")

    def _of_checks(self, app: FastAPI) -> None:
        @app.post("/api/scales/{name}/check")
        async def check(request: Request) -> Response:
            return await self._command(request)

        @app.get("/api/scales/{name}/checks")
        def checks(name: str) -> Any:
            return {"checks": self.checks}

        @app.get("/api/batches/{name}/checks")
        def flags(name: str) -> Any:
            return {"flags": self.flags}


def _add_files(app: FastAPI) -> None:
    """What a batch's page leads to: files, whatever is in them; and that nobody is listed."""

    @app.get("/api/people")
    def people() -> Any:
        return {"listed": False, "people": [], "me": None, "rights": [], "stay_s": 900}

    @app.get("/api/batches/{name}/countersigned")
    def countersigned(name: str) -> Any:
        return {"batch": name, "over": True, "entries": 9, "countersigned": []}

    @app.get("/api/batches/{name}/weighings.csv")
    def table(name: str) -> Response:
        return Response("station,batch\r\n", media_type="text/csv")

    @app.get("/api/batches/{name}/sheet.pdf")
    def sheet(name: str) -> Response:
        return Response("a sheet", media_type="text/plain")
