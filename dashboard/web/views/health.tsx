import type { Health } from '../../contract/http.ts';
import { bytes, significant } from '../format.ts';
import { useApp } from '../state/store.ts';
import { Failure, useRead } from './actions.tsx';

/** What the station says of itself: space, delay, and what it accepted or refused. */
export function HealthPanel() {
  const { api } = useApp();
  const { data, failure, again } = useRead<Health>(() => api.health(), '');
  const health = data.value;
  return (
    <section class="panel" aria-labelledby="health-heading">
      <header>
        <h2 id="health-heading">Station</h2>
        <button type="button" onClick={again}>
          Read again
        </button>
      </header>
      <Failure failure={failure.value} />
      {health && (
        <dl class="facts">
          <dt>State</dt>
          <dd>{health.ok ? 'in order' : 'not in order: see the values below and the station’s log'}</dd>
          <dt>Recorded packets (journal)</dt>
          <dd>
            {bytes(health.journal.bytes)}, {bytes(health.journal.freeBytes)} free
            {health.journal.waiting ? ', waiting for space: make room on the disk' : ''}
          </dd>
          <dt>Delay of measuring</dt>
          <dd>
            {health.collector.lagMs === null
              ? 'not known'
              : `${significant(health.collector.lagMs / 1000)} s`}
          </dd>
          {health.mqtt && (
            <>
              <dt>Message broker</dt>
              <dd>
                {health.mqtt.connected ? 'connected' : 'not connected: readings come late, from the store'}
              </dd>
            </>
          )}
        </dl>
      )}
      {health && (
        <details>
          <summary>Counters since the start</summary>
          <dl class="facts">
            {Object.entries(health.counters).map(([name, count]) => (
              <Counter key={name} name={name} count={count} />
            ))}
          </dl>
        </details>
      )}
    </section>
  );
}

function Counter({ name, count }: { name: string; count: number }) {
  const words = name
    .replace(/([a-z])([A-Z])/g, '$1 $2')
    .replace(/[-_.]/g, ' ')
    .toLowerCase();
  return (
    <>
      <dt>{words.charAt(0).toUpperCase() + words.slice(1)}</dt>
      <dd>{count}</dd>
    </>
  );
}
