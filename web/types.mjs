// Writes the types of the API for the scripts, from the description that the tests keep current; with --check it only
// compares, and then checks the types of the scripts themselves.
import { spawnSync } from "node:child_process";
import { existsSync, readFileSync, writeFileSync } from "node:fs";
import openapiTS, { astToString } from "openapi-typescript";

const FILE = "src/api.d.ts";
const HEAD = "// Written by types.mjs from openapi.json: change neither by hand.\n";
const types = HEAD + astToString(await openapiTS(new URL("./openapi.json", import.meta.url)));

if (!process.argv.includes("--check")) {
  writeFileSync(FILE, types);
} else if (!existsSync(FILE) || readFileSync(FILE, "utf8") !== types) {
  console.error(`web/${FILE} is not that of web/openapi.json: run "python -m tools.openapi"`);
  process.exit(1);
} else {
  process.exit(spawnSync(process.execPath, ["node_modules/typescript/bin/tsc", "-p", "."], { stdio: "inherit" }).status ?? 1);
}
