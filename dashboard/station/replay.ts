import { createHash } from 'node:crypto';
import { basename, resolve } from 'node:path';
import { openWav, toMPerS2 } from '../../collector/index.ts';
import type { RecordStore } from '../server/index.ts';
import { recordingSource, startVirtualNode, type VirtualNode } from '../virtual/index.ts';
import { freshPassword, type NodeConnection } from './demo.ts';
import { StationError } from './errors.ts';
import type { Log } from './log.ts';

export interface ReplayOptions {
  replay: string;
  fullScale?: string;
  unit: string;
  replaySpeed: string;
}

/**
 * Plays a recording through a virtual node of its own, at a location for each channel. Its samples are dated so
 * that it ends now when it is played faster than recorded, and begins now at the recorded speed.
 */
export async function startReplay(
  records: RecordStore,
  connection: NodeConnection,
  options: ReplayOptions,
  log: Log,
): Promise<VirtualNode> {
  const fullScaleMPerS2 = scaleOf(options);
  const speed = Number(options.replaySpeed);
  if (!(speed > 0))
    throw new StationError('BAD_SETTING', `--replay-speed ${options.replaySpeed} is not above 0`);

  const recording = await openWav(options.replay);
  const source = recordingSource(recording, fullScaleMPerS2);
  const name = basename(options.replay);
  // The same file is the same node at every start, so that its locations are made once.
  const nodeId = `c1b0${createHash('sha256').update(resolve(options.replay)).digest('hex').slice(0, 12)}`;
  const known = records.nodes.find(nodeId) !== null;
  const password = freshPassword(records, nodeId, name.slice(0, 80));

  const lengthMs = (recording.frameCount / recording.sampleRateHz) * 1e3;
  const startMs = Date.now() - Math.max(0, lengthMs * (1 - 1 / speed));
  if (!known) addAsset(records, name, nodeId, source.channels.length, startMs);
  const { site, ...address } = connection;
  const node = await startVirtualNode({
    ...address,
    identity: { site, nodeId, password },
    source,
    pace: { kind: 'replay', startMs, speed },
  });
  log.info(
    `replay: ${name}, ${(lengthMs / 1e3).toFixed(1)} s, ${source.channels.length} channels, ${speed} x`,
  );
  node.done
    .then(
      () => log.info(`replay: ${name} has ended`),
      (error: Error) => log.error(`replay: ${name} stopped: ${error.message}`),
    )
    .finally(() => recording.close());
  return node;
}

function scaleOf({ fullScale, unit, replay }: ReplayOptions): number {
  const value = Number(fullScale);
  if (!(value > 0)) {
    throw new StationError(
      'BAD_SETTING',
      `the scale of ${replay} is not known: no level can be given`,
      'Pass the acceleration at digital full scale, for example --full-scale 16 --unit g for a +-16 g sensor.',
    );
  }
  if (unit !== 'g' && unit !== 'm/s2')
    throw new StationError('BAD_SETTING', `--unit ${unit} is neither g nor m/s2`);
  return toMPerS2(value, unit);
}

function addAsset(
  records: RecordStore,
  file: string,
  nodeId: string,
  channelCount: number,
  startMs: number,
): void {
  const asset = records.assets.add({
    name: `Recording ${file}`.slice(0, 80),
    kind: 'machine',
    machineClass: 'I',
  });
  for (let sensor = 0; sensor < channelCount; sensor++) {
    const location = { name: `Channel ${sensor + 1}`, component: 'Recording' };
    const { id } = records.assets.addLocation(asset.id, location);
    // Readings are dated from the recording's start, by whole seconds: the mount must reach back to it.
    records.mounts.put(id, { nodeId, sensor }, Math.floor(startMs / 1e3) * 1e3);
  }
}
