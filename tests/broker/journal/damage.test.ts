import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { RECORD_HEADER_BYTES, SEGMENT_HEADER_BYTES, writeRecord } from '../../../broker/journal/format.ts';
import { findHeader, parseRecord } from '../../../broker/journal/scan.ts';
import { crc32c } from '../../../firmware-protocol/index.ts';
import { tempFolder } from '../station.ts';
import {
  appendNumbered,
  numbered,
  numberOf,
  openWriter,
  readEverything,
  segmentFiles,
  upTo,
} from './support.ts';

const RECORDS = 24;

interface Original {
  dir: string;
  files: string[];
  bytes: Buffer[];
  /** Start and end of each record, as position. */
  extents: [start: number, end: number][];
}

async function withJournal(use: (journal: Original) => Promise<void>): Promise<void> {
  const folder = await tempFolder();
  try {
    const dir = join(folder.path, 'journal');
    const { writer } = await openWriter(dir, { segmentBytes: 1300 });
    const extents: [number, number][] = [];
    for (let i = 0; i < RECORDS; i++) {
      const size = 20 + ((i * 37) % 200);
      const [start] = await appendNumbered(writer, i, 1, size);
      extents.push([start!, start! + RECORD_HEADER_BYTES + 45 + size]);
    }
    await writer.close();
    const files = await segmentFiles(dir);
    await use({ dir, files, bytes: await Promise.all(files.map((file) => readFile(file))), extents });
  } finally {
    await folder.remove();
  }
}

const startOf = (file: string) => Number(file.slice(-24, -8));

describe('damaged segments', () => {
  it('any changed bytes: every record they did not touch is still read, in order; the rest is counted', async () => {
    await withJournal(async ({ dir, files, bytes, extents }) => {
      const total = bytes.reduce((sum, segment) => sum + segment.length, 0);
      const damage = fc.array(fc.record({ at: fc.nat(total - 1), flip: fc.integer({ min: 1, max: 255 }) }), {
        minLength: 1,
        maxLength: 6,
      });
      await fc.assert(
        fc.asyncProperty(damage, async (hits) => {
          const copies = bytes.map((segment) => Buffer.from(segment));
          const changed = new Set<number>();
          const headerless = new Set<number>();
          for (const { at, flip } of hits) {
            // Positions are gapless within this one run, from 0.
            const index = files.findIndex((file, i) => at < startOf(file) + bytes[i]!.length);
            const offset = at - startOf(files[index]!);
            copies[index]![offset]! ^= flip;
            if (copies[index]![offset] === bytes[index]![offset]) continue;
            changed.add(at);
            if (offset < SEGMENT_HEADER_BYTES) headerless.add(index);
          }
          await Promise.all(files.map((file, i) => writeFile(file, copies[i]!)));
          const expected = upTo(RECORDS).filter((i) => {
            const [start, end] = extents[i]!;
            const segment = files.findLastIndex((file) => startOf(file) <= start);
            if (headerless.has(segment)) return false;
            for (const at of changed) if (at >= start && at < end && copiesDiffer(at)) return false;
            return true;
          });
          function copiesDiffer(at: number): boolean {
            const index = files.findLastIndex((file) => startOf(file) <= at);
            const offset = at - startOf(files[index]!);
            return copies[index]![offset] !== bytes[index]![offset];
          }
          const read = await readEverything(dir);
          expect(read.records.map(numberOf)).toEqual(expected);
          for (const record of read.records) {
            const i = numberOf(record);
            expect(record.payload).toEqual(numbered(i, record.payload.length));
            expect(record.position).toBe(extents[i]![0]);
          }
          const lastLost = expected.at(-1) !== RECORDS - 1;
          // The last record of all may, for all a reader can tell, just not be finished yet.
          if (expected.length < RECORDS && !lastLost) expect(read.damagedBytes).toBeGreaterThan(0);
        }),
        { numRuns: 150 },
      );
    });
  });

  it('any cut: the records before it are read, and what the cut left of one is counted', async () => {
    await withJournal(async ({ dir, files, bytes, extents }) => {
      await fc.assert(
        fc.asyncProperty(fc.nat(bytes[0]!.length), async (length) => {
          await writeFile(files[0]!, bytes[0]!.subarray(0, length));
          const second = startOf(files[1]!);
          const whole =
            length < SEGMENT_HEADER_BYTES ? [] : upTo(RECORDS).filter((i) => extents[i]![1] <= length);
          const rest = upTo(RECORDS).filter((i) => extents[i]![0] >= second);
          const read = await readEverything(dir);
          expect(read.records.map(numberOf)).toEqual([...whole, ...rest]);
          const end = whole.length > 0 ? extents[whole.at(-1)!]![1] : length < SEGMENT_HEADER_BYTES ? 0 : 40;
          expect(read.damagedBytes).toBe(length - end);
          expect(read.skippedBytes).toBe(second - length);
        }),
        { numRuns: 100 },
      );
    });
  });

  it('a record forged inside a payload never comes to light', async () => {
    const folder = await tempFolder();
    try {
      const forged = Buffer.alloc(400);
      const end = writeRecord(
        forged,
        0,
        {
          topic: Buffer.from('clampline/depot/node/ffffffffffffffff/samples'),
          payload: numbered(666),
          arrivedAtUs: 1,
        },
        crc32c(Buffer.alloc(8)),
      );
      const { writer } = await openWriter(join(folder.path, 'j'));
      const [first] = await appendNumbered(writer, 0, 1);
      await writer.append('t', forged.subarray(0, end), 2);
      await appendNumbered(writer, 2, 1);
      await writer.close();
      const [file] = await segmentFiles(join(folder.path, 'j'));
      const damaged = await readFile(file!);
      damaged[first! + RECORD_HEADER_BYTES + 45 + 100 + 5]! ^= 255; // the length in the second record's header
      await writeFile(file!, damaged);
      const read = await readEverything(join(folder.path, 'j'));
      expect(read.records.map((record) => record.topic)).not.toContain(
        'clampline/depot/node/ffffffffffffffff/samples',
      );
      expect(read.records.map(numberOf)).toEqual([0, 2]);
    } finally {
      await folder.remove();
    }
  });
});

describe('parsing', () => {
  it('of any bytes ends in an answer, and never claims more than is there', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 400 }), fc.nat(420), fc.nat(), (bytes, at, salt) => {
        const buffer = Buffer.from(bytes);
        const parsed = parseRecord(buffer, Math.min(at, buffer.length), salt);
        if ('end' in parsed) expect(parsed.end).toBeLessThanOrEqual(buffer.length);
        const found = findHeader(buffer, at, salt);
        expect(found === -1 || found + RECORD_HEADER_BYTES <= buffer.length).toBe(true);
      }),
    );
  });

  it('gives back what was written, at any offset and with any neighbours', () => {
    const record = fc.record({
      topic: fc.string({ minLength: 1, maxLength: 60 }).map((text) => Buffer.from(text)),
      payload: fc.uint8Array({ maxLength: 300 }),
      arrivedAtUs: fc.maxSafeNat(),
    });
    fc.assert(
      fc.property(record, fc.nat(50), fc.nat(50), fc.nat(0xffffffff), (written, before, behind, salt) => {
        const size = RECORD_HEADER_BYTES + written.topic.length + written.payload.length;
        const bytes = Buffer.alloc(before + size + behind, 0xee);
        expect(writeRecord(bytes, before, written, salt)).toBe(before + size);
        const parsed = parseRecord(bytes, before, salt);
        expect(parsed).toEqual({
          kind: 'record',
          arrivedAtUs: written.arrivedAtUs,
          topic: written.topic,
          payload: Buffer.from(written.payload),
          end: before + size,
        });
        for (let cut = 0; cut < size; cut++) {
          expect(parseRecord(bytes.subarray(0, before + cut), before, salt).kind).toBe('short');
        }
      }),
      { numRuns: 50 },
    );
  });
});
