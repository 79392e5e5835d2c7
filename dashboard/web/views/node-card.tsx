/** One node: whether it is sound and why, what it says of itself, and where its sensors sit. */
import { useComputed } from '@preact/signals';
import { Link } from 'wouter-preact';
import type { NodeSummary } from '../../contract/model.ts';
import { ago, nodeIdText } from '../format.ts';
import { type Fact, nodeFacts, reasonText, sensorFacts, tapText, verdictText } from '../rig-words.ts';
import { placeName } from '../state/mount-options.ts';
import { useApp, useIsShop } from '../state/store.ts';
import { ConfirmButton } from './actions.tsx';

export function NodeCard({ node, onRevoked }: { node: NodeSummary; onRevoked(): void }) {
  const { api, nowMs } = useApp();
  const isShop = useIsShop();
  const seen = useComputed(() => {
    if (node.lastSeenMs === null) return 'never heard';
    const age = ago(nowMs.value - node.lastSeenMs);
    return age === 'now' ? 'heard just now' : `last heard ${age}`;
  });
  const verdict = node.soundness?.verdict ?? 'unknown';
  const reasons = node.soundness?.reasons ?? [];
  return (
    <li class="panel node">
      <h2>{node.label}</h2>
      <p>
        <code>{nodeIdText(node.nodeId)}</code> · {seen}
      </p>
      <p class={`verdict ${verdict}`}>
        <strong>{verdictText(node.soundness)}</strong>
      </p>
      {reasons.length > 0 && (
        <ul class="reasons">
          {reasons.map((reason) => (
            <li key={`${reason.code} ${reason.sensor}`}>{reasonText(reason)}</li>
          ))}
        </ul>
      )}
      {node.sensors.length > 0 && (
        <ul class="sensors">
          {node.sensors.map(({ sensor, locationId }) => (
            <SensorRow key={sensor} node={node} sensor={sensor} locationId={locationId} />
          ))}
        </ul>
      )}
      {node.health && (
        <details>
          <summary>What it says of itself</summary>
          <NodeFacts node={node} />
        </details>
      )}
      {isShop && (
        <ConfirmButton
          label="Revoke"
          question={`Revoke ${node.label}?`}
          confirm="Revoke"
          onConfirm={async () => {
            await api.revokeNode(node.nodeId);
            onRevoked();
          }}
        >
          <p>
            The station cuts this node off and refuses it from now on. To use it again, enrol it anew and
            flash the new password.
          </p>
        </ConfirmButton>
      )}
    </li>
  );
}

function SensorRow({
  node,
  sensor,
  locationId,
}: {
  node: NodeSummary;
  sensor: number;
  locationId: number | null;
}) {
  const { state, nowMs } = useApp();
  const assets = useComputed(() => state.value.assets).value ?? [];
  const tapped = useComputed(() => tapText(state.value.taps, node.nodeId, sensor, nowMs.value)).value;
  const health = node.health?.sensors.find((one) => one.sensor === sensor);
  return (
    <li class={tapped ? 'felt' : ''} data-sensor={`${node.nodeId}/${sensor}`}>
      <p>
        Sensor {sensor + 1}:{' '}
        {locationId === null ? (
          'waiting for a location'
        ) : (
          <Link href={`/location/${locationId}`}>{placeName(assets, locationId)}</Link>
        )}{' '}
        ·{' '}
        <Link
          href={`/nodes/${node.nodeId}/${sensor}`}
          aria-label={`Check sensor ${sensor + 1} of ${node.label}`}
        >
          Check
        </Link>
      </p>
      {tapped && <p class="tapped">{tapped.charAt(0).toUpperCase() + tapped.slice(1)}</p>}
      {health && <FactList facts={sensorFacts(health)} />}
    </li>
  );
}

function NodeFacts({ node }: { node: NodeSummary }) {
  const { nowMs } = useApp();
  const text = useComputed(() => JSON.stringify(node.health ? nodeFacts(node.health, nowMs.value) : []));
  return <FactList facts={JSON.parse(text.value) as Fact[]} />;
}

export function FactList({ facts }: { facts: readonly Fact[] }) {
  return (
    <dl class="cells">
      {facts.map(({ name, text }) => (
        <div key={name}>
          <dt>{name}</dt>
          <dd>{text}</dd>
        </div>
      ))}
    </dl>
  );
}
