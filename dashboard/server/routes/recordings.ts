import { type Readable, Transform } from 'node:stream';
import { toMPerS2 } from '../../../collector/index.ts';
import { ImportRequest, RecordingTaken, Run, type VehicleQuantity } from '../../contract/runs.ts';
import type { App, Context } from '../context.ts';
import { Refusal } from '../errors.ts';
import { closed } from '../http/schemas.ts';
import { directAnalyst, polite } from '../runs/analyst.ts';
import { createRecordingFiles } from '../runs/recording-files.ts';
import { runView } from '../runs/run-view.ts';
import { checkValue } from '../runs/vehicle-sample.ts';

const LARGEST_FILE_BYTES = 64 * 1024 ** 2;
/** A stated true rate further from the file's own than this belongs to another file. */
const RATE_TOLERANCE = 0.1;

/** Recordings made elsewhere become runs. */
export function recordingRoutes(app: App, context: Context): void {
  const { records, config, now } = context;
  const { runs, runEvents, recordings, vehicleValues, assets } = records;
  const files = createRecordingFiles(config.recordingsDir, polite(context.analyst ?? directAnalyst));

  void app.register(async (uploads: App) => {
    for (const type of ['audio/wav', 'audio/x-wav', 'audio/wave', 'text/csv']) {
      // The bytes go to the disk as they come: a recording is larger than a request should be in memory.
      uploads.addContentTypeParser(type, { bodyLimit: LARGEST_FILE_BYTES }, (_request, body, done) =>
        done(null, body),
      );
    }
    uploads.post(
      '/recordings',
      { schema: { response: { 200: RecordingTaken } }, bodyLimit: LARGEST_FILE_BYTES },
      async (request): Promise<RecordingTaken> => {
        const type = request.headers['content-type'] ?? '';
        if (request.body === undefined || !/^(audio\/|text\/csv)/.test(type))
          throw new Refusal('MEDIA_TYPE_REFUSED');
        const body = limited(request.body as Readable);
        const taken = await files.take(body, type.startsWith('text/csv') ? 'csv' : 'wav');
        const { recordingId, channels, sampleRateHz, frames, startMs, fullScaleMPerS2 } = taken;
        return {
          recordingId,
          channels,
          sampleRateHz,
          durationS: frames / sampleRateHz,
          startMs,
          fullScaleMPerS2,
        };
      },
    );
  });

  app.post(
    '/runs/import',
    { schema: { body: closed(ImportRequest), response: { 200: Run } } },
    async (request): Promise<Run> => {
      const { recordingId, assetId, kind, channels, notes = '', unit = 'm/s2', marks = [] } = request.body;
      const found = await files.description(recordingId);
      const places = new Set(assets.locations(assets.asset(assetId).id).map(({ id }) => id));
      const wrong = (field: string, message: string) => new Refusal('VALIDATION_FAILED', { field, message });
      if (recordings.inUse().has(recordingId)) throw wrong('recordingId', 'This recording is a run already.');
      const seen = new Set<number>();
      for (const { channel, locationId } of channels) {
        if (channel >= found.channels.length || seen.has(channel)) {
          throw wrong(
            'channels',
            `Channel ${channel} is named twice, or not in the recording (0 to ${found.channels.length - 1}).`,
          );
        }
        seen.add(channel);
        if (!places.has(locationId))
          throw wrong('channels', `Location ${locationId} does not belong to this asset.`);
      }
      const { fullScale, sampleRateHz = found.sampleRateHz } = request.body;
      if (fullScale === undefined && found.fullScaleMPerS2 === null) {
        throw wrong('fullScale', "'fullScale' is needed: a WAV file does not say what its full scale means.");
      }
      if (Math.abs(sampleRateHz / found.sampleRateHz - 1) > RATE_TOLERANCE) {
        throw wrong('sampleRateHz', `The recording holds ${found.sampleRateHz} samples per second.`);
      }
      for (const { quantity, value } of found.vehicle) {
        value.forEach((one, row) => {
          checkValue(quantity as VehicleQuantity, one, row + 1);
        });
      }
      const lengthMs = (1000 * found.frames) / sampleRateHz;
      const startMs = Math.round(request.body.startMs ?? found.startMs ?? now() - lengthMs);
      const by = request.session?.person.name ?? '';
      const run = runs.addImported({ assetId, kind, notes }, by, startMs, Math.round(startMs + lengthMs));
      recordings.add(run.id, {
        recordingId,
        startMs,
        frames: found.frames,
        sampleRateHz,
        fullScaleMPerS2: found.fullScaleMPerS2 ?? toMPerS2(fullScale!, unit),
        // One file, one clock: its channels were taken together.
        timeUncertaintyMs: 0,
        clipped: [],
        board: '',
        channels,
      });
      for (const { fromS, toS } of marks) {
        const [atMs, endMs] = [fromS, toS].map((s) => Math.round(startMs + 1000 * s));
        runEvents.addMark(run.id, { atMs: atMs!, endMs: endMs!, source: 'import', note: '', by });
      }
      for (const { quantity, timeS, value } of found.vehicle) {
        vehicleValues.add(
          run.id,
          timeS.map((s, i) => ({
            quantity: quantity as VehicleQuantity,
            atMs: startMs + 1000 * s,
            value: value[i]!,
          })),
        );
      }
      return runView(records, runs.run(run.id), now());
    },
  );
}

/** Ends a body without a stated length that grows too long. */
function limited(body: Readable): Readable {
  let bytes = 0;
  const limiter = new Transform({
    transform(chunk: Buffer, _encoding, done) {
      bytes += chunk.length;
      if (bytes > LARGEST_FILE_BYTES) done(new Refusal('BODY_TOO_LARGE'));
      else done(null, chunk);
    },
  });
  body.once('error', (error) => limiter.destroy(error));
  return body.pipe(limiter);
}
