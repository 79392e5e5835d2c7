/**
 * Pins: spans of arrival time whose segments retention never removes. They lie in the folder `pins` of the journal, one
 * JSON file each, written by whoever wants to keep raw samples (the dashboard server, for a run) and read by the
 * writer's retention. A file appears whole or not at all, so a crash between two of them leaves either the old state
 * or the new one.
 */
import { mkdir, open, readdir, readFile, rename, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { BrokerError, reasonOf, systemCode } from '../errors.ts';

/** Keeps everything that arrived from `fromMs` until `toMs` (Unix ms; null: until the pin is changed). */
export interface JournalPin {
  /** 1 to 64 of a-z, 0-9 and '-'. */
  name: string;
  fromMs: number;
  toMs: number | null;
}

export interface JournalPins {
  /** Makes or replaces the pin of this name; it holds, also through a power cut, once this resolves. */
  put(pin: JournalPin): Promise<void>;
  /** From the next round of retention on its segments may go. No pin of this name: nothing to do. */
  remove(name: string): Promise<void>;
  list(): Promise<JournalPin[]>;
}

const FOLDER = 'pins';
const NAME = /^[a-z0-9-]{1,64}$/;
const FILE = /^([a-z0-9-]{1,64})\.json$/;

/** The pins of the journal in `dir`. The journal's folder must be there; that of the pins is made when needed. */
export function openJournalPins(dir: string): JournalPins {
  const folder = join(dir, FOLDER);
  return {
    async put({ name, fromMs, toMs }) {
      if (!NAME.test(name))
        throw new BrokerError(
          'JOURNAL_PIN_UNUSABLE',
          `name '${name}': 1 to 64 of a-z, 0-9 and '-' are usable`,
        );
      if (!Number.isFinite(fromMs) || (toMs !== null && !(toMs >= fromMs))) {
        throw new BrokerError(
          'JOURNAL_PIN_UNUSABLE',
          `'${name}' ends (${toMs}) before it begins (${fromMs})`,
        );
      }
      await mkdir(folder).catch((error: unknown) => {
        if (systemCode(error) !== 'EEXIST') throw error;
      });
      const path = join(folder, `${name}.json`);
      await writeDurably(`${path}.part`, JSON.stringify({ fromMs, toMs }));
      await rename(`${path}.part`, path);
      await syncFolder(folder);
    },
    async remove(name) {
      if (!NAME.test(name)) return;
      await rm(join(folder, `${name}.json`), { force: true });
    },
    list: () => readPins(dir),
  };
}

/** Throws BrokerError `JOURNAL_PINS_UNREADABLE` when one of them cannot be read: nobody knows then what it keeps. */
export async function readPins(dir: string): Promise<JournalPin[]> {
  const folder = join(dir, FOLDER);
  try {
    const pins: JournalPin[] = [];
    for (const file of (await readdir(folder)).sort()) {
      const name = FILE.exec(file)?.[1];
      if (name === undefined) continue;
      const text = await readFile(join(folder, file), 'utf8').catch((error: unknown) => {
        // Removed since the folder was listed.
        if (systemCode(error) === 'ENOENT') return null;
        throw error;
      });
      if (text !== null) pins.push(parsePin(name, text));
    }
    return pins;
  } catch (error) {
    if (systemCode(error) === 'ENOENT') return [];
    if (error instanceof BrokerError) throw error;
    throw new BrokerError('JOURNAL_PINS_UNREADABLE', `${folder} (${reasonOf(error)})`, error);
  }
}

function parsePin(name: string, text: string): JournalPin {
  const { fromMs, toMs } = JSON.parse(text) as Partial<JournalPin>;
  if (typeof fromMs !== 'number' || !(toMs === null || typeof toMs === 'number')) {
    throw new BrokerError('JOURNAL_PINS_UNREADABLE', `${name}.json names no span of time`);
  }
  return { name, fromMs, toMs };
}

/** Whether any pin keeps something that arrived between the two moments, both included. */
export function pinned(pins: readonly JournalPin[], firstMs: number, lastMs: number): boolean {
  return pins.some(({ fromMs, toMs }) => fromMs <= lastMs && (toMs === null || toMs >= firstMs));
}

async function writeDurably(path: string, text: string): Promise<void> {
  const file = await open(path, 'w', 0o644);
  try {
    await file.writeFile(text);
    await file.sync();
  } finally {
    await file.close();
  }
}

async function syncFolder(folder: string): Promise<void> {
  const handle = await open(folder, 'r');
  try {
    await handle.sync();
  } finally {
    await handle.close();
  }
}
