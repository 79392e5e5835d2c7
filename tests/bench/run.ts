/**
 * `npm run bench`: every measured figure of README, side by side in one run. Each file here exports `bench()`.
 * Runs compiled code (see the script), since Node 20 does not read TypeScript.
 */
import { readdirSync } from 'node:fs';
import { cpus, totalmem } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';

export interface Figure {
  name: string;
  value: number;
  unit: string;
}

const here = dirname(fileURLToPath(import.meta.url));
const only = process.argv[2];
const files = readdirSync(here)
  .filter((name) => /\.[jt]s$/.test(name) && !name.startsWith('run.'))
  .filter((name) => only === undefined || name.startsWith(only))
  .sort();

const gib = Math.round(totalmem() / 1024 ** 3);
console.log(`${cpus().length} x ${cpus()[0]?.model}, ${gib} GiB, Node ${process.version}`);
for (const file of files) {
  const { bench } = (await import(pathToFileURL(join(here, file)).href)) as { bench(): Promise<Figure[]> };
  for (const { name, value, unit } of await bench()) {
    const number = value >= 100 ? Math.round(value).toLocaleString('en') : value.toPrecision(3);
    console.log(`${name.padEnd(72)} ${number.padStart(12)} ${unit}`);
  }
}
