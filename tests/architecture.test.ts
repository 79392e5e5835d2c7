import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';

const root = join(dirname(fileURLToPath(import.meta.url)), '..');

/** Part -> the parts it may import. Longest matching folder names the part a file belongs to. */
const ARROWS: Record<string, string[]> = {
  'firmware-protocol': [],
  broker: ['firmware-protocol', 'broker/journal'],
  collector: ['firmware-protocol', 'broker/journal'],
  'broker/journal': ['broker', 'firmware-protocol'],
  'dashboard/contract': [],
  'dashboard/server': ['dashboard/contract', 'collector', 'firmware-protocol'],
  'dashboard/web': ['dashboard/contract'],
  'dashboard/virtual': ['firmware-protocol', 'collector'],
  'dashboard/station': [
    'dashboard/server',
    'dashboard/virtual',
    'dashboard/contract',
    'collector',
    'broker',
    'broker/journal',
    'firmware-protocol',
  ],
};

/** Numbers in, numbers out: nothing here may reach a clock, file, database, log or network. */
const PURE = [
  'dsp',
  'analysis',
  'compare',
  'drivetrain',
  'rig',
  'tap',
  'timeline',
  'trend',
  'uncertainty',
  'zones',
].map((name) => `collector/${name}`);
const PURE_PACKAGES: string[] = ['@echogarden/pffft-wasm/simd'];

/** Folders whose every file is open to the others; all other parts are entered by their index.ts. */
const OPEN = ['dashboard/contract'];

interface Import {
  file: string;
  to: string;
  package: boolean;
}

function sources(folder: string): string[] {
  return readdirSync(join(root, folder), { recursive: true, encoding: 'utf8' })
    .filter((name) => /\.(ts|tsx|mjs)$/.test(name))
    .map((name) => join(folder, name));
}

function importsOf(file: string): Import[] {
  const text = readFileSync(join(root, file), 'utf8');
  const found = text.matchAll(
    /(?:^|\n)\s*(?:import|export)\s[^'"`;]*?from\s*'([^']+)'|import\(\s*'([^']+)'\s*\)|(?:^|\n)import '([^']+)'/g,
  );
  return [...found].map(([, from, dynamic, bare]) => {
    const target = (from ?? dynamic ?? bare)!;
    const local = target.startsWith('.');
    return { file, to: local ? relative(root, join(root, dirname(file), target)) : target, package: !local };
  });
}

function partOf(path: string): string | undefined {
  return Object.keys(ARROWS)
    .filter((part) => path.startsWith(`${part}/`))
    .sort((a, b) => b.length - a.length)[0];
}

const files = ['firmware-protocol', 'broker', 'collector', 'dashboard'].flatMap(sources);
const imports = files.flatMap(importsOf);
const local = imports.filter((entry) => !entry.package);

describe('who imports whom', () => {
  it('reads a believable number of imports', () => {
    expect(local.length).toBeGreaterThan(50);
  });

  it('every file belongs to a part', () => {
    expect(files.filter((file) => partOf(file) === undefined)).toEqual([]);
  });

  it('imports follow the arrows', () => {
    const wrong = local.filter(({ file, to }) => {
      const [from, target] = [partOf(file)!, partOf(to)];
      return target === undefined || (from !== target && !ARROWS[from]!.includes(target));
    });
    expect(wrong.map(({ file, to }) => `${file} -> ${to}`)).toEqual([]);
  });

  it('parts are entered by their door', () => {
    const wrong = local.filter(({ file, to }) => {
      const target = partOf(to)!;
      const inside = partOf(file) === target || (partOf(file) === 'broker/journal' && target === 'broker');
      return !inside && !OPEN.includes(target) && to !== `${target}/index.ts` && !file.startsWith('broker/');
    });
    expect(wrong.map(({ file, to }) => `${file} -> ${to}`)).toEqual([]);
  });

  it('signal processing and statistics are pure', () => {
    const wrong = imports.filter(({ file, to, package: isPackage }) => {
      if (!PURE.some((folder) => file.startsWith(`${folder}/`))) return false;
      return isPackage ? !PURE_PACKAGES.includes(to) : /\/(store|publish|pipeline)\//.test(to);
    });
    expect(wrong.map(({ file, to }) => `${file} -> ${to}`)).toEqual([]);
  });

  it('signal processing reads no clock', () => {
    const clocks = /\bDate\.now\(|new Date\(\)|performance\.now\(|Math\.random\(|console\./;
    const wrong = files.filter(
      (file) =>
        PURE.some((folder) => file.startsWith(`${folder}/`)) &&
        clocks.test(readFileSync(join(root, file), 'utf8')),
    );
    expect(wrong).toEqual([]);
  });
});
