/** Prints the validation tables: node tests/validate/run.mjs [scale of the synthetic part, default 1] */
import { runnerImport } from 'vite';

const { module } = await runnerImport(new URL('./validate.ts', import.meta.url).pathname, {
  configFile: false,
  logLevel: 'error',
});
await module.validate(console.log, Number(process.argv[2] ?? 1));
