/** Sensors that send and sit nowhere yet, each with a way to mount it at once. */
import { useComputed, useSignal } from '@preact/signals';
import { Link } from 'wouter-preact';
import type { Asset, NodeSummary } from '../../contract/model.ts';
import { nodeIdText } from '../format.ts';
import { sensorName, tapText } from '../rig-words.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction } from './actions.tsx';

/** One silent for longer is put away, not waiting. */
const WAITING_MS = 120_000;
/** So few free locations are keys to press; more are a list. */
const MOST_KEYS = 3;

export interface WaitingSensor {
  nodeId: string;
  sensor: number;
  name: string;
}

export function waitingSensors(nodes: readonly NodeSummary[], nowMs: number): WaitingSensor[] {
  return nodes.flatMap((node) =>
    node.lastSeenMs === null || nowMs - node.lastSeenMs > WAITING_MS
      ? []
      : node.sensors
          .filter(({ locationId }) => locationId === null)
          .map(({ sensor }) => ({
            nodeId: node.nodeId,
            sensor,
            name: sensorName(nodes, node.nodeId, sensor),
          })),
  );
}

interface FreePlace {
  id: number;
  name: string;
}

function freePlaces(assets: readonly Asset[]): FreePlace[] {
  return assets.flatMap((asset) =>
    asset.locations
      .filter(({ mount }) => mount === null)
      .map(({ id, name }) => ({ id, name: `${asset.name}, ${name}` })),
  );
}

export function WaitingSensors({ nodes, onMounted }: { nodes: readonly NodeSummary[]; onMounted(): void }) {
  const { state, nowMs } = useApp();
  const assets = useComputed(() => state.value.assets).value ?? [];
  const key = useComputed(() => JSON.stringify(waitingSensors(nodes, nowMs.value))).value;
  const waiting = JSON.parse(key) as WaitingSensor[];
  if (waiting.length === 0) return null;
  const places = freePlaces(assets);
  return (
    <section class="panel strong" aria-labelledby="waiting-heading">
      <h2 id="waiting-heading">Waiting for a location</h2>
      <p>
        {waiting.length === 1 ? 'This sensor sends' : 'These sensors send'} and{' '}
        {waiting.length === 1 ? 'is' : 'are'} measured, but {waiting.length === 1 ? 'belongs' : 'belong'} to
        no location yet.
      </p>
      {places.length === 0 && (
        <p class="hint">
          Every location has its sensor. <Link href="/assets">Add a location</Link> for it first.
        </p>
      )}
      <ul class="waiting">
        {waiting.map((sensor) => (
          <WaitingRow
            key={`${sensor.nodeId}/${sensor.sensor}`}
            sensor={sensor}
            places={places}
            onMounted={onMounted}
          />
        ))}
      </ul>
    </section>
  );
}

function WaitingRow({
  sensor: { nodeId, sensor, name },
  places,
  onMounted,
}: {
  sensor: WaitingSensor;
  places: readonly FreePlace[];
  onMounted(): void;
}) {
  const { api, readAssets, state, nowMs } = useApp();
  const action = useAction();
  const chosen = useSignal('');
  const tapped = useComputed(() => tapText(state.value.taps, nodeId, sensor, nowMs.value)).value;
  const mount = (locationId: number) =>
    void action.run(async () => {
      await api.mount(locationId, { mount: { nodeId, sensor } });
      await readAssets();
      onMounted();
    });
  return (
    <li class={tapped ? 'felt' : ''}>
      <p>
        <strong>{name}</strong> <code>{nodeIdText(nodeId)}</code>
        {tapped && <span class="tapped"> · {tapped}</span>}
      </p>
      <Failure failure={action.failure.value} />
      <div class="buttons">
        {places.length <= MOST_KEYS ? (
          places.map((place) => (
            <button
              type="button"
              key={place.id}
              disabled={action.busy.value}
              aria-label={`Mount ${name} at ${place.name}`}
              onClick={() => mount(place.id)}
            >
              Mount at {place.name}
            </button>
          ))
        ) : (
          <>
            <select
              aria-label={`Location for ${name}`}
              value={chosen.value}
              onChange={(event) => {
                chosen.value = event.currentTarget.value;
              }}
            >
              <option value="">Choose a location…</option>
              {places.map((place) => (
                <option key={place.id} value={String(place.id)}>
                  {place.name}
                </option>
              ))}
            </select>
            <button
              type="button"
              disabled={action.busy.value || chosen.value === ''}
              aria-label={`Mount ${name} there`}
              onClick={() => mount(Number(chosen.value))}
            >
              Mount
            </button>
          </>
        )}
      </div>
    </li>
  );
}
