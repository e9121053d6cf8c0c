import { createHash } from "node:crypto";
import { existsSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { brotliCompressSync, constants, gzipSync } from "node:zlib";
import { defineConfig, type Plugin } from "vite";

/** The licences of what is bundled go out with it: read from the packages that ended up in the code. */
function thirdParty(): Plugin {
  return {
    name: "third-party",
    generateBundle(_options, bundle) {
      const homes = new Set<string>();
      for (const chunk of Object.values(bundle)) {
        if (chunk.type !== "chunk") continue;
        for (const id of Object.keys(chunk.modules)) {
          if (!id.includes("node_modules")) continue;
          let home = dirname(id.replace(/^\0/, "").split("?")[0]!);
          // A folder inside a package may hold a package.json of its own, without a version.
          while (!(existsSync(join(home, "package.json")) && manifest(home).version)) home = dirname(home);
          homes.add(home);
        }
      }
      if (homes.size === 0) this.error("no bundled package was found: the licence notice would be empty");
      const parts = [...homes].sort().map((home) => {
        const { name, version, license } = manifest(home);
        const file = readdirSync(home).find((f) => /^licen[cs]e/i.test(f));
        if (!file) this.error(`${name} ${version} brings no licence file`);
        return `${name} ${version} (${license})\n\n${readFileSync(join(home, file), "utf8").trim()}\n`;
      });
      const rule = `\n${"-".repeat(72)}\n\n`;
      const head = "The page is built from its own source and from these packages:\n";
      this.emitFile({ type: "asset", fileName: "THIRD-PARTY.txt", source: [head, ...parts].join(rule) });
    },
  };
}

/** The worker that keeps the page: it is told every file there is, and a stamp that changes with them. */
function worker(): Plugin {
  return {
    name: "worker",
    enforce: "post",
    generateBundle(_options, bundle) {
      const home = import.meta.dirname;
      const open = readdirSync(join(home, "public"));
      const assets = Object.keys(bundle).filter((name) => name.startsWith("assets/"));
      const files = ["", ...open, ...assets].map((name) => `./${name}`).sort();
      const source = readFileSync(join(home, "src/worker/sw.js"), "utf8");
      // The names of assets change with what is in them; those of the others do not.
      const stamped = createHash("sha256").update(source).update(files.join());
      for (const name of ["index.html", ...open.map((one) => join("public", one))]) stamped.update(readFileSync(join(home, name)));
      const stamp = stamped.digest("hex").slice(0, 16);
      this.emitFile({ type: "asset", fileName: "sw.js", source: source.replace("__STAMP__", stamp).replace("__FILES__", JSON.stringify(files)) });
    },
  };
}

/** Each text beside itself, packed once and for all: browsers take brotli over TLS and on this machine, else gzip. */
function packed(): Plugin {
  return {
    name: "packed",
    apply: "build",
    writeBundle({ dir }) {
      for (const name of readdirSync(dir!, { recursive: true, encoding: "utf8" })) {
        if (!/\.(html|js|css|svg|txt|webmanifest)$/.test(name)) continue;
        const plain = readFileSync(join(dir!, name));
        const params = { [constants.BROTLI_PARAM_SIZE_HINT]: plain.length };
        for (const [ending, small] of [["br", brotliCompressSync(plain, { params })], ["gz", gzipSync(plain, { level: 9 })]] as const) {
          // What fits into a packet or two as it is gains nothing.
          if (plain.length > 1000 && small.length < 0.9 * plain.length) writeFileSync(join(dir!, `${name}.${ending}`), small);
        }
      }
    },
  };
}

function manifest(home: string): { name: string; version?: string; license?: string } {
  return JSON.parse(readFileSync(join(home, "package.json"), "utf8"));
}

export default defineConfig({
  base: "./",
  oxc: { jsx: { runtime: "automatic", importSource: "preact" } },
  plugins: [thirdParty(), worker(), packed()],
  build: {
    outDir: "weighd_web/dist",
    emptyOutDir: true,
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    target: ["es2022", "chrome105", "firefox113", "safari16"],
  },
  server: { proxy: { "/api": { target: "http://127.0.0.1:8000", ws: true } } },
});
