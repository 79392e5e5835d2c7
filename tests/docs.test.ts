import { execFileSync } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { cli, projectRoot } from './support/station.ts';

const DOCUMENTS = ['README.md', 'DEVELOPERS.md', 'firmware-protocol/SPEC.md'];
const text = (path: string) => readFileSync(join(projectRoot, path), 'utf8');
const scripts = Object.keys(JSON.parse(text('package.json')).scripts);
const tracked = execFileSync('git', ['ls-files'], { cwd: projectRoot, encoding: 'utf8' }).trim().split('\n');
const help = (command: string) =>
  execFileSync(process.execPath, [cli, command, '--help'], { encoding: 'utf8' });

describe.each(DOCUMENTS)('%s', (path) => {
  it('links only to files that exist', () => {
    const links = [...text(path).matchAll(/\]\((?!https?:|#)([^)#]+)/g)].map(([, link]) => link!);
    expect(links.filter((link) => !existsSync(join(projectRoot, dirname(path), link)))).toEqual([]);
  });

  it('names only npm scripts that exist', () => {
    const named = [...text(path).matchAll(/npm run (?:-s )?([a-z][a-z:]*)/g)].map(([, name]) => name!);
    expect(named.filter((name) => !scripts.includes(name))).toEqual([]);
  });
});

describe('the settings of README', () => {
  const rows = [...text('README.md').matchAll(/^\| (`--[^|]*) \| ([^|]*) \|/gm)];
  const options = rows.flatMap(([, cell]) => [...cell!.matchAll(/--[a-z-]+/g)].map(String));

  it('are options of the station', () => {
    const known = help('start') + help('collector');
    expect(options.length).toBeGreaterThan(8);
    expect(options.filter((option) => !known.includes(option))).toEqual([]);
  });

  it('leave none out', () => {
    const known = [...help('broker').matchAll(/^ {2}(--[a-z-]+)/gm)].map(([, option]) => option!);
    expect(known.length).toBeGreaterThan(8);
    expect(known.filter((option) => !options.includes(option))).toEqual([]);
  });

  it('name variables that the settings read', () => {
    const source = text('dashboard/station/settings.ts');
    const variables = rows.flatMap(([, , cell]) =>
      [...cell!.matchAll(/CLAMPLINE_([A-Z_]+)/g)].map(([, name]) => name!),
    );
    expect(variables.length).toBeGreaterThan(8);
    expect(variables.filter((name) => !source.includes(name))).toEqual([]);
  });
});

describe('the repository', () => {
  it('has only the agreed folders at its top', () => {
    const folders = new Set(tracked.filter((path) => path.includes('/')).map((path) => path.split('/')[0]!));
    const visible = [...folders].filter((name) => !name.startsWith('.'));
    expect(visible.sort()).toEqual(['broker', 'collector', 'dashboard', 'firmware-protocol', 'tests']);
  });

  it('names no machine and no registry host', () => {
    const own = 'tests/docs.test.ts';
    const sources = tracked.filter(
      (path) => /\.(ts|tsx|mjs|json|md|yml|c|h|py|html|css)$|^\.npmrc$/.test(path) && path !== own,
    );
    const hosts = /"resolved":|registry\.npmjs|\/root\/|\/home\/[a-z]|\/work\/(main|shared)/;
    expect(sources.filter((path) => hosts.test(text(path)))).toEqual([]);
  });
});
