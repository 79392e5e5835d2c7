import { join } from 'node:path';
import type { inquiry } from '../../../collector/index.ts';
import { Refusal } from '../errors.ts';
import type { LocationRecord } from '../records/assets.ts';
import type { RecordStore } from '../records/record-store.ts';
import type { Recording } from '../records/recordings.ts';
import type { RunRecord } from '../records/runs.ts';
import { coveredSpan } from '../view.ts';
import { mountsDuring } from './run-view.ts';

type Span = { fromMs: number; toMs: number };

/** Where the raw samples of runs and locations are. */
export interface Sources {
  /** Of all locations of a run that had a sensor, or one of them. Throws `RAW_SAMPLES_MISSING`, `LOCATION_NOT_FOUND`. */
  ofRun(run: RunRecord, locationId?: number): inquiry.Source;
  /** Of one location's current sensor. */
  ofLocation(locationId: number): inquiry.Source;
  spanOf(run: RunRecord, part?: { fromMs?: number; toMs?: number; manoeuvreId?: number }): Span;
}

export function createSources(
  records: RecordStore,
  { journalDir, recordingsDir }: { journalDir?: string; recordingsDir?: string },
  now: () => number,
): Sources {
  function journal(): string {
    if (journalDir === undefined) throw new Refusal('RAW_SAMPLES_MISSING');
    return journalDir;
  }

  function fromJournal(run: RunRecord, locationId?: number): inquiry.Source {
    const names = placeNames(records.assets.locations(run.assetId));
    const places = [...mountsDuring(records, run, now())]
      .filter(([id]) => locationId === undefined || id === locationId)
      .map(([id, mounts]) => ({
        locationId: id,
        name: names.get(id)!,
        stays: mounts.map((mount) => ({ nodeId: mount.nodeId, sensor: mount.sensor, ...coveredSpan(mount) })),
      }));
    if (places.length === 0)
      throw new Refusal(locationId === undefined ? 'RAW_SAMPLES_MISSING' : 'LOCATION_NOT_FOUND');
    return { kind: 'journal', journalDir: journal(), places };
  }

  function fromFiles(run: RunRecord, recordings: readonly Recording[], locationId?: number): inquiry.Source {
    if (recordingsDir === undefined) throw new Refusal('RAW_SAMPLES_MISSING');
    const names = placeNames(records.assets.locations(run.assetId));
    const files = recordings.flatMap(({ recordingId, board, channels, ...recording }) => {
      const ids = [...new Set(channels.map((one) => one.locationId))];
      const places = ids
        .filter((id) => locationId === undefined || id === locationId)
        .map((id) => ({
          locationId: id,
          name: names.get(id) ?? `location ${id}`,
          board,
          channels: channels
            .filter((one) => one.locationId === id)
            .map(({ channel, axis }) => ({ channel, axis })),
        }));
      const path = join(recordingsDir, `${recordingId}.wav`);
      return places.length === 0 ? [] : [{ ...recording, path, places }];
    });
    if (files.length === 0)
      throw new Refusal(locationId === undefined ? 'RAW_SAMPLES_MISSING' : 'LOCATION_NOT_FOUND');
    return { kind: 'files', files };
  }

  return {
    ofRun(run, locationId) {
      const recordings = run.source === 'import' ? records.recordings.ofRun(run.id) : [];
      if (recordings.length > 0) return fromFiles(run, recordings, locationId);
      // Its samples stayed where they were made: the journal here holds none of them.
      if (run.source === 'import') throw new Refusal('RAW_SAMPLES_MISSING');
      return fromJournal(run, locationId);
    },
    ofLocation(locationId) {
      const { assetId } = records.assets.location(locationId);
      const mount = records.mounts.currentAt(locationId);
      if (mount === null) throw new Refusal('RAW_SAMPLES_MISSING');
      const { nodeId, sensor } = mount;
      const name = placeNames(records.assets.locations(assetId)).get(locationId)!;
      const stays = [{ nodeId, sensor, ...coveredSpan(mount) }];
      return {
        kind: 'journal',
        journalDir: journal(),
        places: [{ locationId, name, stays }],
        lateMs: 10_000,
      };
    },
    spanOf(run, { fromMs, toMs, manoeuvreId } = {}) {
      const endMs = run.endMs ?? now();
      const manoeuvre =
        manoeuvreId === undefined
          ? undefined
          : records.runEvents.manoeuvres(run.id).find(({ id }) => id === manoeuvreId);
      if (manoeuvreId !== undefined && manoeuvre === undefined) throw new Refusal('MANOEUVRE_NOT_FOUND');
      const span = {
        fromMs: Math.max(run.startMs, fromMs ?? manoeuvre?.startMs ?? run.startMs),
        toMs: Math.min(endMs, toMs ?? manoeuvre?.endMs ?? endMs),
      };
      if (span.fromMs >= span.toMs) {
        const message = 'The time span ends before it begins, or no part of it lies within the run.';
        throw new Refusal('SPAN_INVALID', { field: 'fromMs', message });
      }
      return span;
    },
  };
}

/** As people say it: "pinion bearing of the rear axle". */
export function placeNames(locations: readonly LocationRecord[]): Map<number, string> {
  return new Map(
    locations.map(({ id, name, component }) => {
      const [place, part] = [lowerFirst(name), lowerFirst(component)];
      return [id, place === part ? place : `${place} of the ${part}`];
    }),
  );
}

/** "Left hub" -> "left hub", but "ABS ring" stays. */
function lowerFirst(text: string): string {
  return /^\p{Lu}\p{Lu}/u.test(text) ? text : text.charAt(0).toLowerCase() + text.slice(1);
}
