import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import {
  DecodeError,
  ErrorCode,
  MAX_PACKET_BYTES,
  nodeTopic,
  toNodeTopic,
} from '../../firmware-protocol/index.ts';
import { Kind, Offset } from '../../firmware-protocol/layout.ts';
import { validVectors } from './support/examples.ts';

const read = (path: string) =>
  readFileSync(new URL(`../../firmware-protocol/${path}`, import.meta.url), 'utf8');
const spec = read('SPEC.md');
const header = read('c/clampline.h');
const rows = (text: string) =>
  [...text.matchAll(/^\|(.+)\|$/gm)].map((row) => row[1]!.split('|').map((cell) => cell.trim()));
const section = (number: number) => spec.split(/^## \d+\. /m)[number]!;

describe('SPEC.md', () => {
  const listed = rows(section(10))
    .filter(([code]) => /^-\d+$/.test(code!))
    .map(([code, name]) => [name, Number(code)]);

  it('has the error codes of TypeScript, name by name', () => {
    expect(Object.fromEntries(listed)).toEqual(ErrorCode);
    expect(new Set(Object.values(ErrorCode)).size).toBe(listed.length);
    for (const [name, code] of Object.entries(DecodeError)) expect(ErrorCode).toHaveProperty(name, code);
  });

  it('has the error codes of C, name by name', () => {
    const inC = [...header.matchAll(/CLAMPLINE_E_([A-Z_]+) = (-\d+)/g)].map(([, name, code]) => [
      name!.toLowerCase().replace(/(?:^|_)([a-z])/g, (_, letter) => letter.toUpperCase()),
      Number(code),
    ]);
    expect(inC).toEqual(listed);
  });

  it('has the kinds and offsets of the code', () => {
    for (const [name, number] of Object.entries(Kind)) {
      const words = name.replace(/(?!^)[A-Z]/g, (letter) => ` ${letter.toLowerCase()}`).toLowerCase();
      expect(spec).toContain(`${number} ${words}`);
      const macro = name.replace(/(?!^)[A-Z]/g, (letter) => `_${letter}`).toUpperCase();
      expect(header).toMatch(new RegExp(`CLAMPLINE_KIND_${macro} = ${number}\\b`));
    }
    const offsets = rows(section(4)).map(([offset]) => Number(offset));
    for (const offset of Object.values(Offset).filter((o) => o >= 16)) expect(offsets).toContain(offset);
    expect(spec).toContain(`${MAX_PACKET_BYTES.toLocaleString('en')} bytes`);
  });

  it('has the topics of the code', () => {
    const place = { site: '<site>', nodeId: '<node id>' };
    for (const kind of ['samples', 'status', 'time', 'event'] as const)
      expect(spec).toContain(`\`${nodeTopic({ ...place, kind })}\``);
    for (const kind of ['time', 'command', 'journaled'] as const)
      expect(spec).toContain(`\`${toNodeTopic(place.site, place.nodeId, kind)}\``);
  });

  it('has a worked example that is the first test vector, byte by byte', () => {
    const example = rows(section(11)).filter(([bytes]) => /^`([0-9a-f]{2} ?)+`$/.test(bytes!));
    const hex = example.map(([bytes]) => bytes!.replace(/[` ]/g, '')).join('');
    expect(hex).toBe(validVectors().find((v) => v.name === 'samples: worked example, predicted')!.hex);
  });
});
