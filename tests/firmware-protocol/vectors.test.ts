import { execFile } from 'node:child_process';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { ErrorCode } from '../../firmware-protocol/index.ts';
import { Kind } from '../../firmware-protocol/layout.ts';
import { type Vector, validVectors } from './support/examples.ts';
import { decodeFields, type Fields } from './support/fields.ts';
import { invalidVectors } from './support/invalid.ts';
import { buildFolder, make, missing, replay } from './support/tools.ts';

type Committed = Vector & { fields?: Fields; error?: number };

const file = (name: string) =>
  fileURLToPath(new URL(`../../firmware-protocol/vectors/${name}.json`, import.meta.url));
const read = (name: string): Committed[] =>
  existsSync(file(name)) ? JSON.parse(readFileSync(file(name), 'utf8')) : [];
const bytesOf = (vector: Vector) => Uint8Array.from(Buffer.from(vector.hex, 'hex'));

/** One vector to a line, so that a change shows as one line. */
const written = (vectors: Committed[]) =>
  `[\n${vectors.map((v) => `  ${JSON.stringify(v)}`).join(',\n')}\n]\n`;

const valid = validVectors().map((v) => ({ ...v, fields: decodeFields(v.kind, bytesOf(v)) as Fields }));
const invalid = invalidVectors().map((v) => ({ ...v, error: decodeFields(v.kind, bytesOf(v)) as number }));

// `VECTORS=write npx vitest run tests/firmware-protocol/vectors.test.ts` renews the files of this language.
if (process.env['VECTORS'] === 'write') {
  writeFileSync(file('made-by-typescript'), written(valid));
  writeFileSync(file('invalid'), written(invalid));
}

/** Kinds a node reads: the C core has decoders for these. For the others it has encoders. */
const READ_IN_C: number[] = [Kind.Samples, Kind.TimeAnswer, Kind.Command, Kind.Journaled];

describe('vectors in TypeScript', () => {
  it('holds enough of them', () => {
    expect(read('made-by-typescript').length).toBeGreaterThanOrEqual(20);
    expect(read('made-by-c').length).toBeGreaterThanOrEqual(30);
    expect(read('invalid').length).toBeGreaterThanOrEqual(90);
  });

  it('writes the bytes of the committed files', () => {
    expect(valid).toEqual(read('made-by-typescript'));
    expect(invalid).toEqual(read('invalid'));
  });

  it.each(read('invalid'))('refuses $name', ({ error, ...vector }) => {
    expect(error).toBeLessThanOrEqual(ErrorCode.TooShort);
    expect(error).toBeGreaterThanOrEqual(ErrorCode.BadPayload);
    expect(decodeFields(vector.kind, bytesOf(vector))).toBe(error);
  });

  it.each(read('made-by-c'))('reads $name made by C', ({ fields, ...vector }) => {
    const decoded = decodeFields(vector.kind, bytesOf(vector));
    if (fields !== undefined) expect(decoded).toEqual(fields);
    else expect(decoded).toBeInstanceOf(Array);
  });
});

const absent = missing('cc', 'make');

describe.skipIf(absent !== null)(`vectors in C${absent === null ? '' : ` (${absent})`}`, () => {
  const build = buildFolder();
  beforeAll(async () => void (await make(build.folder, 'tools')), 120_000);
  afterAll(build.dispose);

  it('writes the bytes of the committed file', async () => {
    const { stdout } = await promisify(execFile)(`${build.folder}/make-vectors`, { maxBuffer: 2 ** 24 });
    expect(JSON.parse(stdout)).toEqual(read('made-by-c'));
  });

  it('reads what TypeScript and C wrote, and refuses what must be refused, by the same code', async () => {
    const vectors = [...read('made-by-typescript'), ...read('made-by-c'), ...read('invalid')].filter((v) =>
      READ_IN_C.includes(v.kind),
    );
    const answers = await replay(
      `${build.folder}/replay`,
      vectors.map((v) => `decode ${v.kind} ${v.hex}`),
    );
    vectors.forEach((vector, index) => {
      expect(JSON.parse(answers[index]!), vector.name).toEqual(vector.error ?? vector.fields);
    });
  });

  it('writes the same bytes as TypeScript for what a node publishes', async () => {
    const vectors = read('made-by-typescript').filter((v) => !READ_IN_C.includes(v.kind));
    expect(vectors.length).toBeGreaterThan(5);
    const words = (fields: Fields, kind: number) =>
      fields.map((value, index) => {
        if (kind !== Kind.Status || index < fields.length - 2) return String(value);
        return Buffer.from(String(value)).toString('hex') || '-';
      });
    const answers = await replay(
      `${build.folder}/replay`,
      vectors.map((v) => `encode ${v.kind} ${words(v.fields!, v.kind).join(' ')}`),
    );
    expect(answers).toEqual(vectors.map((v) => v.hex));
  });
});
