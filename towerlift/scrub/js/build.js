// Builds the bundle that ships: `node build.js`, or `node build.js --check` to compare it
// with what is there.

import { mkdir, readFile, writeFile } from "node:fs/promises";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import process from "node:process";
import { build } from "esbuild";

const here = dirname(fileURLToPath(import.meta.url));
const into = join(here, "..", "static");
const FILES = [["index.js", "scrub.js"], ["loader.js", "loader.js"]];

/** @param {string} source */
async function bundled(source) {
  const { outputFiles } = await build({
    absWorkingDir: here,
    entryPoints: [join("src", source)],
    bundle: true,
    minify: true,
    format: "esm",
    target: "es2022",
    legalComments: "inline",
    loader: { ".css": "text" },
    write: false,
  });
  return outputFiles[0].text;
}

let stale = 0;
await mkdir(into, { recursive: true });
for (const [source, name] of FILES) {
  const text = await bundled(source);
  const file = join(into, name);
  if (process.argv.includes("--check")) {
    const there = await readFile(file, "utf8").catch(() => "");
    if (there !== text) {
      stale += 1;
      console.error(`${name} is not what its source gives; run: make view`);
    }
  } else {
    await writeFile(file, text);
    console.log(`${name}: ${text.length} bytes`);
  }
}
process.exitCode = stale;
