/** Tap to identify: a person raps one clamp, and the page says which sensor felt it. */
import { useComputed, useSignal } from '@preact/signals';
import type { NodeSummary } from '../../contract/model.ts';
import type { FeltTap } from '../../contract/rig.ts';
import { ago, significant } from '../format.ts';
import { sensorName } from '../rig-words.ts';
import { placeName } from '../state/mount-options.ts';
import { useApp } from '../state/store.ts';

export function FindClamp({ nodes }: { nodes: readonly NodeSummary[] }) {
  const open = useSignal(false);
  return (
    <section class="panel" aria-labelledby="find-heading">
      <header>
        <h2 id="find-heading">Find a clamp</h2>
        <button
          type="button"
          aria-pressed={open.value}
          onClick={() => {
            open.value = !open.value;
          }}
        >
          {open.value ? 'Stop' : 'Find a clamp'}
        </button>
      </header>
      {open.value ? <Listening nodes={nodes} /> : <p>Which sensor is this? Rap it, and its row answers.</p>}
    </section>
  );
}

function Listening({ nodes }: { nodes: readonly NodeSummary[] }) {
  const { state, nowMs } = useApp();
  const sinceMs = useSignal(nowMs.value).value;
  const rap = useComputed(() => {
    const newest = state.value.taps.at(-1);
    return newest !== undefined && newest.atMs >= sinceMs - 2000 ? newest : null;
  }).value;
  return (
    <>
      <p>
        <strong>Engine and motor off, key out, nothing turning.</strong> Rap one clamp with a knuckle, once.
        Two seconds later the row that felt it is marked below. It works only with the machine at rest:
        shaking hides a tap, and a knock on a running machine looks like one.
      </p>
      <div role="status" class="found">
        {rap === null ? <p>Listening: no tap felt yet.</p> : <Found rap={rap} nodes={nodes} />}
      </div>
    </>
  );
}

function Found({ rap, nodes }: { rap: FeltTap; nodes: readonly NodeSummary[] }) {
  const { state, nowMs } = useApp();
  const assets = useComputed(() => state.value.assets).value ?? [];
  const age = useComputed(() => ago(Math.max(0, nowMs.value - rap.atMs))).value;
  const [strongest, second] = rap.felt;
  const where = nodes
    .find(({ nodeId }) => nodeId === strongest!.nodeId)
    ?.sensors.find(({ sensor }) => sensor === strongest!.sensor)?.locationId;
  const place = where == null ? 'not mounted yet' : placeName(assets, where);
  const peak = strongest!.peakMPerS2 === null ? '' : ` with ${significant(strongest!.peakMPerS2, 2)} m/s²`;
  return (
    <>
      <p class="answer">
        <strong>{sensorName(nodes, strongest!.nodeId, strongest!.sensor)}</strong> ({place}) felt it
        {rap.felt.length > 1 ? ' most' : ''}
        {peak}, {age}.
      </p>
      {second && !rap.clear && (
        <p>
          Not clear: {sensorName(nodes, second.nodeId, second.sensor)} felt it about as strongly. Rap the
          clamp itself, with the bare knuckle.
        </p>
      )}
      {rap.clear && rap.felt.length > 1 && (
        <p class="hint">
          {rap.felt.length - 1} {rap.felt.length === 2 ? 'other' : 'others'} felt it too, at most half as
          strongly.
        </p>
      )}
      {rap.felt.some(({ atRest }) => atRest === false) && (
        <p>The machine was shaking at that moment: this may have been no tap.</p>
      )}
    </>
  );
}
