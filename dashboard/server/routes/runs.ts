import { Type } from 'typebox';
import { MANOEUVRES, reviewSuspects, troubleCodeNote } from '../../../collector/index.ts';
import {
  ManoeuvreChange,
  ManoeuvreGuide,
  ManoeuvreRequest,
  MarkChange,
  MarkRequest,
  Run,
  RunChange,
  RunRequest,
  RunSummary,
  RunsQuery,
  SuspectReview,
} from '../../contract/runs.ts';
import type { App, Context } from '../context.ts';
import { Refusal } from '../errors.ts';
import { change, closed, Done, IdParams } from '../http/schemas.ts';
import type { RunRecord } from '../records/runs.ts';
import { runView, summaryView } from '../runs/run-view.ts';

const PartParams = Type.Object({ ...IdParams.properties, part: IdParams.properties.id });
const RunAnswer = { 200: Run };
/** A mark may lie a little ahead: the phone reckons station time. */
const AHEAD_MS = 5_000;

export function runRoutes(app: App, context: Context): void {
  const { records, now } = context;
  const { runs, runEvents } = records;
  const view = (run: RunRecord): Run => runView(records, run, now());

  app.get('/manoeuvres', { schema: { response: { 200: Type.Array(ManoeuvreGuide) } } }, () =>
    MANOEUVRES.map((guide) => ({ ...guide })),
  );

  app.get(
    '/runs',
    { schema: { querystring: closed(RunsQuery), response: { 200: Type.Array(RunSummary) } } },
    (request) => runs.list(request.query.assetId).map(summaryView),
  );

  app.post('/runs', { schema: { body: closed(RunRequest), response: RunAnswer } }, (request) =>
    view(runs.start(request.body, request.session?.person.name ?? '')),
  );

  app.get('/runs/:id', { schema: { params: IdParams, response: RunAnswer } }, (request) =>
    view(runs.run(request.params.id)),
  );

  app.patch(
    '/runs/:id',
    { schema: { params: IdParams, body: change(RunChange), response: RunAnswer } },
    (request) => {
      const { troubleCodes, ...others } = request.body;
      const codes = troubleCodes === undefined ? {} : { troubleCodes: codesOf(troubleCodes) };
      return view(runs.change(request.params.id, { ...others, ...codes }));
    },
  );

  app.post('/runs/:id/end', { schema: { params: IdParams, response: RunAnswer } }, (request) => {
    const { id } = runs.run(request.params.id);
    runEvents.endManoeuvres(id, now());
    return view(runs.end(id));
  });

  app.delete(
    '/runs/:id',
    { schema: { params: IdParams, response: { 200: Done } }, config: { access: 'shop' } },
    (request) => {
      runs.remove(request.params.id);
      return { done: true as const };
    },
  );

  app.post(
    '/runs/:id/marks',
    { schema: { params: IdParams, body: closed(MarkRequest), response: RunAnswer } },
    (request) => {
      const run = runs.run(request.params.id);
      const { atMs = now(), endMs = null, source, note = '' } = request.body;
      const latestMs = (run.endMs ?? now()) + AHEAD_MS;
      if (atMs < run.startMs - AHEAD_MS || Math.max(atMs, endMs ?? 0) > latestMs) {
        throw new Refusal('SPAN_INVALID', { field: 'atMs', message: 'The mark lies outside its run.' });
      }
      const by = request.session?.person.name ?? '';
      runEvents.addMark(run.id, { atMs, endMs, source, note, by });
      return view(runs.run(run.id));
    },
  );

  app.patch(
    '/runs/:id/marks/:part',
    { schema: { params: PartParams, body: change(MarkChange), response: RunAnswer } },
    (request) => {
      const { id, part } = request.params;
      runEvents.changeMark(id, part, request.body);
      return view(runs.run(id));
    },
  );

  app.delete('/runs/:id/marks/:part', { schema: { params: PartParams, response: RunAnswer } }, (request) => {
    const { id, part } = request.params;
    runEvents.removeMark(id, part);
    return view(runs.run(id));
  });

  app.post(
    '/runs/:id/manoeuvres',
    { schema: { params: IdParams, body: closed(ManoeuvreRequest), response: RunAnswer } },
    (request) => {
      const run = runs.run(request.params.id);
      if (run.endMs !== null) throw new Refusal('RUN_ENDED');
      runEvents.begin(run.id, request.body.manoeuvre);
      return view(runs.run(run.id));
    },
  );

  app.patch(
    '/runs/:id/manoeuvres/:part',
    { schema: { params: PartParams, body: change(ManoeuvreChange), response: RunAnswer } },
    (request) => {
      const { id, part } = request.params;
      runEvents.changeManoeuvre(id, part, request.body);
      return view(runs.run(id));
    },
  );

  app.get(
    '/runs/:id/suspects',
    { schema: { params: IdParams, response: { 200: SuspectReview } } },
    (request) => {
      const { id } = runs.run(request.params.id);
      const observations = runEvents
        .manoeuvres(id)
        .flatMap(({ manoeuvre, noise, pitch }) =>
          noise === null ? [] : [{ manoeuvre, noise, ...(pitch === null ? {} : { pitch }) }],
        );
      return reviewSuspects(observations);
    },
  );
}

/** Each once, as the standard writes them. */
function codesOf(texts: readonly string[]): string[] {
  try {
    return [...new Set(texts.map((text) => troubleCodeNote(text).code))];
  } catch (cause) {
    if (!(cause instanceof RangeError)) throw cause;
    const message = `${cause.message.charAt(0).toUpperCase()}${cause.message.slice(1)}.`;
    throw new Refusal('VALIDATION_FAILED', { field: 'troubleCodes', message, cause });
  }
}
