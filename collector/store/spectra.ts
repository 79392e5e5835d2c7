import type Database from 'better-sqlite3';
import type { BlockSpectrum } from '../model.ts';
import type { MeanSpectrum } from './reading-store.ts';
import {
  joined,
  meanOf,
  rowOfSum,
  type SpectrumRow,
  type SpectrumSum,
  sumOf,
  sumOfBlock,
} from './spectrum-row.ts';

/**
 * Keeps the mean spectrum of each minute, inside the transaction that writes the readings. A block is added when its
 * reading is first stored as a sound one, so what keeps readings from counting twice keeps spectra from it too.
 */
export interface Spectra {
  add(sensorId: number, spectrum: BlockSpectrum): void;
  /** Writes what was added. */
  finish(): void;
  /** After a rolled-back transaction: what was added is not there. */
  forget(): void;
}

const COLUMNS = 'slot, count, axes, first_band, packed';

export function prepareSpectra(db: Database.Database): Spectra {
  const get = db.prepare<[number, number], SpectrumRow>(
    `SELECT ${COLUMNS} FROM spectrum WHERE sensor_id = ? AND slot = ?`,
  );
  const put = db.prepare('REPLACE INTO spectrum VALUES (?, ?, ?, ?, ?, ?)');
  const added = new Map<number, Map<number, SpectrumSum>>();
  // The minute that a sensor is in comes again with the next commit: its sum is kept unrounded.
  const newest = new Map<number, { slot: number; sum: SpectrumSum }>();

  function storedSum(sensorId: number, slot: number): SpectrumSum | null {
    const known = newest.get(sensorId);
    if (known?.slot === slot) return known.sum;
    const row = get.get(sensorId, slot);
    return row ? sumOf(row) : null;
  }

  return {
    add(sensorId, spectrum) {
      const slot = Math.floor(spectrum.startMs / 60_000);
      let minutes = added.get(sensorId);
      if (minutes === undefined) {
        minutes = new Map();
        added.set(sensorId, minutes);
      }
      const block = sumOfBlock(spectrum);
      const before = minutes.get(slot) ?? storedSum(sensorId, slot);
      minutes.set(slot, before === null ? block : joined(before, block));
    },
    finish() {
      for (const [sensorId, minutes] of added) {
        for (const [slot, sum] of minutes) {
          const row = rowOfSum(slot, sum);
          put.run(sensorId, slot, row.count, row.axes, row.first_band, row.packed);
          if (slot >= (newest.get(sensorId)?.slot ?? slot)) newest.set(sensorId, { slot, sum });
        }
      }
      added.clear();
    },
    forget() {
      added.clear();
      newest.clear();
    },
  };
}

/** Questions about kept spectra. */
export interface SpectrumQueries {
  spectrum(sensorId: number, fromMs: number, toMs: number): MeanSpectrum | null;
  nearestMs(sensorId: number, atMs: number, fromMs: number, toMs: number): number | null;
}

export function prepareSpectrumQueries(db: Database.Database): SpectrumQueries {
  const span = db.prepare<[number, number, number], SpectrumRow>(
    `SELECT ${COLUMNS} FROM spectrum WHERE sensor_id = ? AND slot >= ? AND slot < ? ORDER BY slot`,
  );
  const nearest = db
    .prepare<[{ id: number; at: number; from: number; to: number }], number | null>(
      `SELECT slot FROM (
         SELECT max(slot) AS slot FROM spectrum WHERE sensor_id = @id AND slot <= @at AND slot >= @from
         UNION ALL
         SELECT min(slot) FROM spectrum WHERE sensor_id = @id AND slot > @at AND slot < @to
       ) WHERE slot IS NOT NULL ORDER BY abs(slot - @at) LIMIT 1`,
    )
    .pluck();
  const firstSlot = (ms: number) => Math.ceil(ms / 60_000);
  return {
    spectrum: (id, fromMs, toMs) => meanOf(span.all(id, firstSlot(fromMs), firstSlot(toMs))),
    nearestMs(id, atMs, fromMs, toMs) {
      const [from, to] = [firstSlot(fromMs), firstSlot(toMs)];
      const at = Math.min(Math.max(Math.floor(atMs / 60_000), from), to - 1);
      const slot = to > from ? (nearest.get({ id, at, from, to }) ?? null) : null;
      return slot === null ? null : slot * 60_000;
    },
  };
}
