import { AXIS_NAMES, type AxisName } from '../../firmware-protocol/index.ts';
import { packAxes, unpackAxes } from '../store/reading-row.ts';
import type { SpectrumRow } from '../store/spectrum-row.ts';
import { openForReading, openForWriting } from '../store/sqlite-open.ts';
import type { ExportPart } from './export-readings.ts';

/** Mean spectrum of one minute of a sensor, as a line of JSON. */
export interface ExportedSpectrum {
  node: string;
  sensor: number;
  /** Begin of the minute, Unix ms. */
  timeMs: number;
  /** Blocks of one second that it is the mean of. */
  blocks: number;
  axes: readonly AxisName[];
  /** Number of the lowest twelfth of an octave. */
  firstBand: number;
  /** For each axis its density, band by band: hundredths of a decibel over 1e-20 (m/s²)²/Hz, 0 where there is none. */
  density: number[][];
}

const MINUTE_S = 60;
const MOST_BANDS = 400;

/** Kept spectra of whole minutes, part after part, each oldest first. */
export function* exportSpectra(file: string, parts: readonly ExportPart[]): Generator<ExportedSpectrum> {
  const db = openForReading(file);
  if (db === null) return;
  try {
    const rows = db.prepare<[string, number, number, number], SpectrumRow>(
      `SELECT slot, count, axes, first_band, packed FROM spectrum
       WHERE sensor_id = (SELECT id FROM sensor WHERE node_id = ? AND sensor = ?) AND slot >= ? AND slot < ? ORDER BY slot`,
    );
    for (const { sensor, fromS, untilS } of parts) {
      const span = [Math.ceil(fromS / MINUTE_S), Math.floor(untilS / MINUTE_S)] as const;
      for (const { slot, count, axes: code, first_band: firstBand, packed } of rows.iterate(
        sensor.nodeId,
        sensor.sensor,
        ...span,
      )) {
        const axes = unpackAxes(code);
        const bands = packed.length / 2 / axes.length;
        const density = axes.map((_, axis) =>
          Array.from({ length: bands }, (_, band) => packed.readUInt16LE(2 * (axis * bands + band))),
        );
        const timeMs = slot * MINUTE_S * 1000;
        yield { node: sensor.nodeId, sensor: sensor.sensor, timeMs, blocks: count, axes, firstBand, density };
      }
    }
  } finally {
    db.close();
  }
}

/**
 * Puts spectra into the readings file of a stopped station, for sensors that it knows readings of; of one minute the
 * fuller one stays. Returns how many were read and how many of these changed something.
 *
 * @throws TypeError when one is no exported spectrum
 */
export async function importSpectra(
  file: string,
  spectra: AsyncIterable<{ value: unknown; where: string }>,
): Promise<{ read: number; fresh: number }> {
  const counts = { read: 0, fresh: 0 };
  const db = openForWriting(file);
  try {
    const sensorId = db
      .prepare<[string, number], number>('SELECT id FROM sensor WHERE node_id = ? AND sensor = ?')
      .pluck();
    const put = db.prepare(
      `INSERT INTO spectrum VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET count = excluded.count,
       axes = excluded.axes, first_band = excluded.first_band, packed = excluded.packed WHERE excluded.count > count`,
    );
    db.exec('BEGIN');
    for await (const { value, where } of spectra) {
      const { node, sensor, timeMs, blocks, axes, firstBand, density } = checked(value, where);
      counts.read++;
      const id = sensorId.get(node, sensor);
      if (id === undefined) continue;
      const packed = packedOf(density);
      const slot = timeMs / 1000 / MINUTE_S;
      counts.fresh += put.run(id, slot, blocks, packAxes(axes), firstBand, packed).changes;
    }
    db.exec('COMMIT');
    return counts;
  } finally {
    // What is not committed is not there.
    db.close();
  }
}

function packedOf(density: readonly number[][]): Buffer {
  const values = density.flat();
  const packed = Buffer.allocUnsafe(2 * values.length);
  for (const [i, value] of values.entries()) packed.writeUInt16LE(value, 2 * i);
  return packed;
}

function checked(value: unknown, where: string): ExportedSpectrum {
  const one = (value ?? {}) as Partial<ExportedSpectrum>;
  const whole = (of: unknown, least: number, most: number): of is number =>
    Number.isInteger(of) && (of as number) >= least && (of as number) <= most;
  const axes = one.axes;
  const bands = Array.isArray(one.density) && Array.isArray(one.density[0]) ? one.density[0].length : 0;
  const sound =
    typeof one.node === 'string' &&
    whole(one.sensor, 0, 15) &&
    whole(one.timeMs, 0, 8.64e15) &&
    one.timeMs % (MINUTE_S * 1000) === 0 &&
    whole(one.blocks, 1, 1e6) &&
    whole(one.firstBand, -1000, 1000) &&
    Array.isArray(axes) &&
    axes.length > 0 &&
    new Set(axes).size === axes.length &&
    axes.every((axis) => AXIS_NAMES.includes(axis)) &&
    bands > 0 &&
    bands <= MOST_BANDS &&
    one.density!.length === axes.length &&
    one.density!.every(
      (axis) => Array.isArray(axis) && axis.length === bands && axis.every((of) => whole(of, 0, 65_535)),
    );
  if (!sound) throw new TypeError(`${where} is no spectrum as export writes it`);
  return one as ExportedSpectrum;
}
