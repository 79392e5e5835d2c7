import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { build } from 'vite';

/** Bundles a TypeScript file with all it imports, since Node 20 runs JavaScript only. Returns its path. */
export async function bundle(entry: URL, outDir: string): Promise<string> {
  await build({
    configFile: false,
    logLevel: 'warn',
    root: fileURLToPath(new URL('../..', import.meta.url)),
    ssr: { noExternal: true, target: 'node' },
    build: {
      ssr: fileURLToPath(entry),
      outDir,
      emptyOutDir: false,
      minify: false,
      target: 'node20',
      rolldownOptions: { output: { entryFileNames: 'child.mjs' } },
    },
  });
  return join(outDir, 'child.mjs');
}

export interface Child {
  process: ChildProcess;
  /** First line it printed. */
  firstLine: string;
  kill(): Promise<void>;
}

/** Starts the program and waits for its first line. */
export async function startChild(program: string, args: string[]): Promise<Child> {
  const child = spawn(process.execPath, [program, ...args], { stdio: ['ignore', 'pipe', 'pipe'] });
  let errors = '';
  child.stderr.on('data', (chunk) => {
    errors += chunk;
  });
  const ended = once(child, 'exit');
  const lines = createInterface({ input: child.stdout });
  const first = await Promise.race([once(lines, 'line'), ended]);
  if (child.exitCode !== null) throw new Error(`${program} ended:\n${errors}`);
  return {
    process: child,
    firstLine: String(first[0]),
    async kill() {
      child.kill('SIGKILL');
      await ended;
    },
  };
}
