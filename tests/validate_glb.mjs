// Khronos's glTF validator over one file: the report goes to standard output, as JSON.
// node tests/validate_glb.mjs FOLDER_OF_GLTF_VALIDATOR FILE
import { createRequire } from "node:module";
import { readFileSync } from "node:fs";

const [, , folder, file] = process.argv;
const validator = createRequire(import.meta.url)(folder);
const report = await validator.validateBytes(new Uint8Array(readFileSync(file)));
process.stdout.write(JSON.stringify(report));
