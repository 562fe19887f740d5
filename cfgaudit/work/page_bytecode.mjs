// Runs a Python text in the runtime of a page: FOLDER SCRIPT GIVEN MADE, the last two tar files.
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const [folder, script, given, made] = process.argv.slice(2);
const { loadPyodide } = await import(pathToFileURL(join(folder, "pyodide.mjs")).href);
const python = await loadPyodide({ indexURL: folder, env: { PYTHONHASHSEED: "0" } });
python.FS.writeFile("/given.tar", readFileSync(given));
python.runPython(readFileSync(script, "utf8"));
writeFileSync(made, python.FS.readFile("/made.tar"));
