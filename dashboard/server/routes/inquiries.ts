import type { FastifyReply } from 'fastify';
import type { inquiry } from '../../../collector/index.ts';
import {
  CompareRequest,
  CompareResult,
  FollowRequest,
  FollowResult,
  LiveSoundQuery,
  PeersRequest,
  PeersResult,
  RecordingQuery,
  RunSoundQuery,
  SidesRequest,
  SidesResult,
  Spectrogram,
  SpectrogramQuery,
  TapRequest,
  TapResult,
} from '../../contract/inquiries.ts';
import type { App, Context } from '../context.ts';
import { Refusal } from '../errors.ts';
import { trainModel } from '../findings/train-model.ts';
import { closed, IdParams } from '../http/schemas.ts';
import type { RunRecord } from '../records/runs.ts';
import { directAnalyst, polite } from '../runs/analyst.ts';
import { createSources } from '../runs/sources.ts';
import { toldSpeeds } from '../runs/told-speeds.ts';

const MOST_PEERS = 8;
const LONGEST_TAP_MS = 60_000;
/** Live sound and raps are of now: clocks settle in less than for a record that is kept. */
const LIVE_LEAD_MS = 20_000;

/** Questions about raw samples. Answers depend on nothing but the samples, so the same question gives the same answer. */
export function inquiryRoutes(app: App, context: Context): void {
  const { records, now, config } = context;
  const { runs, runEvents, vehicleValues, runResults } = records;
  const analyst = polite(context.analyst ?? directAnalyst);
  const sources = createSources(records, config, now);

  const conditionsOf = (run: RunRecord): inquiry.Condition[] => vehicleValues.series(run.id);

  app.post(
    '/runs/:id/compare',
    { schema: { params: IdParams, body: closed(CompareRequest), response: { 200: CompareResult } } },
    async (request): Promise<CompareResult> => {
      const run = runs.run(request.params.id);
      const { bandHz, defectHz, ignoreMarks, locationIds } = request.body;
      const found = await analyst.ask('compare', {
        source: sources.ofRun(run),
        span: sources.spanOf(run, request.body),
        marks: ignoreMarks ? [] : runEvents.marks(run.id),
        conditions: conditionsOf(run),
        ...(bandHz === undefined ? {} : { bandHz }),
        ...(defectHz === undefined ? {} : { defectHz }),
        ...(locationIds === undefined ? {} : { locationIds }),
      });
      // Deleted meanwhile: there is nothing left to keep the answer with.
      runs.run(run.id);
      const result = { madeMs: now(), request: request.body, ...found };
      runResults.put(run.id, 'compare', result);
      return result;
    },
  );

  app.get('/runs/:id/compare', { schema: { params: IdParams } }, (request): unknown =>
    JSON.parse(runResults.text(runs.run(request.params.id).id, 'compare') ?? 'null'),
  );

  app.post(
    '/runs/:id/peers',
    { schema: { params: IdParams, body: closed(PeersRequest), response: { 200: PeersResult } } },
    (request) => {
      const run = runs.run(request.params.id);
      const { locationId, manoeuvreId } = request.body;
      return analyst.ask('peers', {
        own: { ...peerRun(run, locationId, manoeuvreId), marks: runEvents.marks(run.id) },
        peers: peersOf(run, locationId, manoeuvreId),
      });
    },
  );

  function peerRun(run: RunRecord, locationId: number, manoeuvreId?: number): inquiry.PeerRun {
    return {
      assetName: records.assets.asset(run.assetId).name,
      runId: run.id,
      source: sources.ofRun(run, locationId),
      span: sources.spanOf(run, manoeuvreId === undefined ? {} : { manoeuvreId }),
      conditions: conditionsOf(run),
    };
  }

  /**
   * Newest run of the same kind of each other asset that has a location of the same name; same manoeuvre if one is asked
   * for. Runs whose samples are kept go before newer ones whose samples may be gone.
   */
  function peersOf(own: RunRecord, locationId: number, manoeuvreId?: number): inquiry.PeerRun[] {
    const { name, component } = records.assets.location(locationId);
    const { kind } = records.assets.asset(own.assetId);
    const wanted = runEvents.manoeuvres(own.id).find(({ id }) => id === manoeuvreId)?.manoeuvre;
    const found: inquiry.PeerRun[] = [];
    const seen = new Set([own.assetId]);
    const newest = runs.list();
    for (const run of [...newest.filter(({ kept }) => kept), ...newest.filter(({ kept }) => !kept)]) {
      if (found.length >= MOST_PEERS || seen.has(run.assetId) || run.kind !== own.kind || run.endMs === null)
        continue;
      if (records.assets.asset(run.assetId).kind !== kind) continue;
      const place = records.assets
        .locations(run.assetId)
        .find((one) => alike(one.name, name) && alike(one.component, component));
      const manoeuvre =
        wanted === undefined
          ? undefined
          : runEvents.manoeuvres(run.id).find((one) => one.manoeuvre === wanted);
      if (place === undefined || (wanted !== undefined && manoeuvre === undefined)) continue;
      try {
        found.push(peerRun(run, place.id, manoeuvre?.id));
        seen.add(run.assetId);
      } catch (error) {
        // A run without samples of this location is no peer; an older one of the asset may be.
        if (!(error instanceof Refusal)) throw error;
      }
    }
    return found;
  }

  app.post(
    '/runs/:id/follow',
    { schema: { params: IdParams, body: closed(FollowRequest), response: { 200: FollowResult } } },
    (request) => {
      const run = runs.run(request.params.id);
      const span = sources.spanOf(run, request.body);
      const told = vehicleValues.series(run.id, span.fromMs, span.toMs);
      const load = told.find(({ quantity }) => quantity === 'engineLoadPercent');
      const train = records.driveTrains.of(run.assetId);
      return analyst.ask('orderLock', {
        source: sources.ofRun(run, request.body.locationId),
        span,
        speeds: toldSpeeds(train, told),
        train: trainModel(train),
        ...(load === undefined ? {} : { load: { atMs: load.atMs, value: load.value } }),
      });
    },
  );

  app.get(
    '/runs/:id/sound',
    { schema: { params: IdParams, querystring: closed(RunSoundQuery) } },
    async (request, reply) => {
      const run = runs.run(request.params.id);
      const source = sources.ofRun(run, request.query.locationId);
      return sendSound(reply, await analyst.ask('sound', soundQuestion(source, request.query)));
    },
  );

  app.get(
    '/locations/:id/sound',
    { schema: { params: IdParams, querystring: closed(LiveSoundQuery) } },
    async (request, reply) => {
      const source = sources.ofLocation(request.params.id);
      const question = { ...soundQuestion(source, request.query), leadMs: LIVE_LEAD_MS };
      return sendSound(reply, await analyst.ask('sound', question));
    },
  );

  app.get(
    '/runs/:id/spectrogram',
    { schema: { params: IdParams, querystring: closed(SpectrogramQuery), response: { 200: Spectrogram } } },
    async (request): Promise<Spectrogram> => {
      const run = runs.run(request.params.id);
      const { locationId, axis } = request.query;
      const picture = await analyst.ask('picture', {
        source: sources.ofRun(run, locationId),
        span: sources.spanOf(run, request.query),
        ...(axis === undefined ? {} : { axis }),
      });
      return { ...picture, levels: Buffer.from(picture.levels).toString('base64') };
    },
  );

  const exported = async (
    params: { id: number },
    query: { locationId: number; fromMs?: number; toMs?: number },
  ) => {
    const run = runs.run(params.id);
    const source = sources.ofRun(run, query.locationId);
    return analyst.ask('export', { source, span: sources.spanOf(run, query) });
  };
  const recording = { schema: { params: IdParams, querystring: closed(RecordingQuery) } };
  const attachment = (id: number, locationId: number, ending: string) =>
    `attachment; filename="run-${id}-location-${locationId}.${ending}"`;

  app.get('/runs/:id/recording.wav', recording, async (request, reply) => {
    const { wav } = await exported(request.params, request.query);
    const { locationId } = request.query;
    return reply
      .type('audio/wav')
      .header('content-disposition', attachment(request.params.id, locationId, 'wav'))
      .send(Buffer.from(wav));
  });

  app.get('/runs/:id/recording.json', recording, async (request, reply) => {
    const { description } = await exported(request.params, request.query);
    const { locationId } = request.query;
    return reply
      .header('content-disposition', attachment(request.params.id, locationId, 'json'))
      .send(description);
  });

  const tapQuestion = ({ locationId, fromMs, toMs }: TapRequest) => {
    if (fromMs >= toMs) throw new Refusal('SPAN_INVALID', { field: 'fromMs' });
    if (toMs - fromMs > LONGEST_TAP_MS) {
      throw new Refusal('SPAN_TOO_LONG', { field: 'toMs', message: 'The raps of a part fit into a minute.' });
    }
    return { source: sources.ofLocation(locationId), span: { fromMs, toMs }, leadMs: LIVE_LEAD_MS };
  };

  app.post('/taps', { schema: { body: closed(TapRequest), response: { 200: TapResult } } }, (request) =>
    analyst.ask('tap', tapQuestion(request.body)),
  );

  app.post(
    '/taps/sides',
    { schema: { body: closed(SidesRequest), response: { 200: SidesResult } } },
    (request) => {
      const { part, left, right } = request.body;
      return analyst.ask('sides', { part, left: tapQuestion(left), right: tapQuestion(right) });
    },
  );
}

const alike = (a: string, b: string) => a.trim().toLowerCase() === b.trim().toLowerCase();

function soundQuestion(
  source: inquiry.Source,
  query: { fromMs: number; toMs: number; axis?: 'single' | 'x' | 'y' | 'z'; lowHz?: number; highHz?: number },
): inquiry.Question<'sound'> {
  const { fromMs, toMs, axis, lowHz, highHz } = query;
  if (fromMs >= toMs) throw new Refusal('SPAN_INVALID', { field: 'fromMs' });
  return {
    source,
    span: { fromMs, toMs },
    ...(axis === undefined ? {} : { axis }),
    ...(lowHz === undefined && highHz === undefined ? {} : { bandHz: [lowHz ?? 20, highHz ?? 100_000] }),
  };
}

function sendSound(reply: FastifyReply, sound: inquiry.Answer<'sound'>): FastifyReply {
  const gapMs = sound.gaps.reduce((sum, { fromMs, toMs }) => sum + toMs - fromMs, 0);
  return reply
    .type('audio/wav')
    .headers({
      'clampline-full-scale-m-per-s2': String(sound.fullScaleMPerS2),
      'clampline-rms-m-per-s2': String(sound.rmsMPerS2),
      'clampline-axis': sound.axis,
      'clampline-recorded-to-hz': String(Math.round(sound.recordedToHz)),
      'clampline-gap-ms': String(Math.round(gapMs)),
    })
    .send(Buffer.from(sound.wav));
}
