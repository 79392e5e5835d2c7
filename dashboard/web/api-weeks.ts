/** Calls that concern levels over weeks. */
import type {
  AssetEvent,
  AssetEventRequest,
  RunTrendRequest,
  Trends,
  TrendsQuery,
} from '../contract/weeks.ts';
import type { Call } from './api-runs.ts';

export function weekCalls(call: Call) {
  return {
    trends: (query: TrendsQuery) => call<Trends>('GET', `/trends?${queryText(query)}`),
    addEvent: (assetId: number, event: AssetEventRequest) =>
      call<AssetEvent>('POST', `/assets/${assetId}/events`, event),
    removeEvent: (assetId: number, eventId: number) => call('DELETE', `/assets/${assetId}/events/${eventId}`),
    leaveOut: (runId: number, request: RunTrendRequest) => call('PUT', `/runs/${runId}/trend`, request),
  };
}

function queryText(query: Record<string, string | number | undefined>): string {
  return new URLSearchParams(
    Object.entries(query).flatMap(([name, value]): [string, string][] =>
      value === undefined ? [] : [[name, String(value)]],
    ),
  ).toString();
}
