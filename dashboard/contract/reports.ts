/** Reports to pass on: each one file that needs nothing beside it. */
import { type Static, Type } from 'typebox';

/**
 * GET /api/runs/:id/report and /api/assets/:id/report -> text/html. Of an asset: its newest run that said something, or its
 * levels alone.
 */
export const ReportQuery = Type.Object({
  /** Left out: without names, notes and times of day, as it may be passed on. */
  include: Type.Optional(Type.Literal('names-and-times')),
  /** As a file to keep; left out: to be shown. */
  download: Type.Optional(Type.Boolean()),
});
export type ReportQuery = Static<typeof ReportQuery>;
