/**
 * Prints the validation tables: npm run validate [-- recordings | synthetic | compare | trend | rattle]...
 * Without a name: all of them, which takes the better part of an hour on one core.
 */
import { compareTable } from './compare.ts';
import { validateRattle } from './rattle.ts';
import { validateTrend } from './trend.ts';
import { validateRecordings, validateSynthetic } from './validate.ts';

const print = (line: string) => console.log(line);

const PARTS: Record<string, () => void | Promise<void>> = {
  recordings: () => validateRecordings(print),
  synthetic: () => validateSynthetic(print),
  compare: () => print(compareTable('evaluation', 2000)),
  trend: () => validateTrend({ livesPerLaw: 60, print }),
  rattle: () => validateRattle(2000, print),
};

const wanted = process.argv.slice(2);
const unknown = wanted.filter((name) => !(name in PARTS));
if (unknown.length > 0) {
  console.error(`unknown: ${unknown.join(', ')}. Known: ${Object.keys(PARTS).join(', ')}`);
  process.exitCode = 2;
} else {
  for (const name of wanted.length > 0 ? wanted : Object.keys(PARTS)) {
    print(`\n## ${name}\n`);
    await PARTS[name]!();
  }
}
