import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { describe, expect, it } from 'vitest';
import { projectRoot } from '../../support/station.ts';

const built = join(projectRoot, 'dist', 'dashboard', 'web');
const page = join(built, 'index.html');

describe.skipIf(!existsSync(page))('the built page', () => {
  const html = existsSync(page) ? readFileSync(page, 'utf8') : '';
  const compressedBytes = (file: string) => gzipSync(readFileSync(join(built, file))).length;
  const loadedFirst = [...html.matchAll(/(?:src|href)="\/(assets\/[^"]+\.js)"/g)].map((match) => match[1]!);
  const allScripts = existsSync(page)
    ? readdirSync(join(built, 'assets'))
        .filter((file) => file.endsWith('.js'))
        .map((file) => join('assets', file))
    : [];

  it('loads under 60 kB of compressed script first, and under 150 kB with the charts', () => {
    expect(loadedFirst.length).toBeGreaterThan(0);
    const sum = (files: string[]) => files.reduce((total, file) => total + compressedBytes(file), 0);
    expect(sum(loadedFirst)).toBeLessThan(60_000);
    const charts = allScripts.filter((file) => file.includes('/charts-'));
    expect(charts.length).toBeGreaterThan(0);
    expect(sum([...new Set([...loadedFirst, ...charts])])).toBeLessThan(150_000);
  });

  it('fetches at most 20 kB more for any page that is opened later', () => {
    const later = allScripts.filter((file) => !loadedFirst.includes(file) && !file.includes('/charts-'));
    for (const file of later) expect(compressedBytes(file), file).toBeLessThan(20_000);
  });

  it('holds nothing inline, so that the strict security policy can stand', () => {
    expect(html).not.toMatch(/<script(?![^>]*\ssrc=)/);
    expect(html).not.toMatch(/<style|\sstyle=|\son[a-z]+=/);
  });

  it('fetches nothing from elsewhere', () => {
    expect(html).not.toMatch(/https?:\/\//);
    for (const file of readdirSync(join(built, 'assets')).filter((name) => name.endsWith('.css')))
      expect(readFileSync(join(built, 'assets', file), 'utf8')).not.toMatch(/url\(|@import/);
  });

  it('carries no schema library: the contract gives it types only', () => {
    for (const file of allScripts) expect(readFileSync(join(built, file), 'utf8')).not.toMatch(/typebox/i);
  });
});
