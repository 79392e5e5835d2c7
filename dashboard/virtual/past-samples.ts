import { randomInt } from 'node:crypto';
import { connectAsync } from 'mqtt';
import {
  CaptureMode,
  encodeSamplePacket,
  MAX_FRAMES,
  MAX_SAMPLES,
  nodeTopic,
  TimeSource,
} from '../../firmware-protocol/index.ts';
import type { SampleSource } from './sample-source.ts';
import { Sender } from './sender.ts';
import type { NodeIdentity } from './virtual-node.ts';

/** A node's store of captures it took earlier, sent beside its live samples. */
export interface PastSamples {
  /** Sends `seconds` of a source as captured from `startMs` on; settles when the station has acknowledged them. */
  send(source: SampleSource, startMs: number, seconds: number): Promise<void>;
  close(): Promise<void>;
}

/** Packets on the way at once: few, so that live packets of other nodes never wait long behind them. */
const ON_THE_WAY = 16;
const PACKETS_PER_S = 8;

export async function connectPastSamples(connection: {
  mqttUrl: string;
  ca?: string;
  identity: NodeIdentity;
}): Promise<PastSamples> {
  const { identity, mqttUrl, ca } = connection;
  const client = await connectAsync(mqttUrl, {
    clientId: `${identity.nodeId}-past`,
    username: identity.nodeId,
    password: identity.password,
    protocolVersion: 4,
    ...(ca === undefined ? {} : { ca }),
  });
  return {
    async send(source, startMs, seconds) {
      const sender = new Sender(client, nodeTopic({ ...identity, kind: 'samples' }), ON_THE_WAY);
      // Each capture is a start of the board of its own: between two of them it slept.
      const header = { nodeId: identity.nodeId, bootId: randomInt(2 ** 32) };
      const perPacket = Math.ceil(source.sampleRateHz / PACKETS_PER_S);
      const frames = Math.min(perPacket, MAX_FRAMES, Math.floor(MAX_SAMPLES / source.channels.length));
      const total = Math.round(source.sampleRateHz * seconds);
      let counter = 0;
      for (let sequence = 0; counter < total; sequence++) {
        const samples = await source.next(Math.min(frames, total - counter));
        if (samples === null) break;
        await sender.untilWaiting(ON_THE_WAY - 1);
        sender.offer(
          encodeSamplePacket({
            ...header,
            sequence,
            firstSample: BigInt(counter),
            nodeClockUs: BigInt(Math.round(startMs * 1000 + (counter / source.sampleRateHz) * 1e6)),
            timeSource: TimeSource.Replay,
            captureMode: CaptureMode.DutyCycled,
            nominalRateHz: source.sampleRateHz,
            fullScaleMPerS2: source.fullScaleMPerS2,
            flags: 0,
            channels: source.channels,
            samples,
          }),
        );
        counter += samples[0]!.length;
      }
      await sender.untilWaiting(0);
    },
    close: () => client.endAsync(!client.connected),
  };
}
