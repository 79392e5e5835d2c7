/** On a location's page: what its weeks come to, and the way to them. */
import { Link } from 'wouter-preact';
import type { Trends } from '../../contract/weeks.ts';
import { useApp } from '../state/store.ts';
import { useRead } from './actions.tsx';

export function WeeksPanel({ assetId, locationId }: { assetId: number; locationId: number }) {
  const { api } = useApp();
  const { data } = useRead(
    () => api.call<Trends>('GET', `/trends?locationIds=${locationId}`),
    String(locationId),
  );
  return (
    <section class="panel" aria-labelledby="weeks-panel">
      <h2 id="weeks-panel">Over weeks</h2>
      {data.value?.trends[0]?.sentences.slice(0, 2).map((sentence) => (
        <p key={sentence}>{sentence}</p>
      ))}
      <div class="buttons">
        <Link href={`/location/${locationId}/weeks`} class="button">
          Trend over weeks
        </Link>
        <Link href={`/assets/${assetId}/decide?location=${locationId}`} class="button">
          Decide
        </Link>
        <Link href={`/assets/${assetId}/watch?location=${locationId}`} class="button">
          Watch plan
        </Link>
        <Link href={`/assets/${assetId}/repair?location=${locationId}`} class="button">
          Verify a repair
        </Link>
        <Link href={`/assets/${assetId}/opened?location=${locationId}`} class="button">
          Strip-down log
        </Link>
      </div>
    </section>
  );
}
