/** Sensor nodes: who may send, when each was last heard, and the station's own health. */
import { useComputed, useSignal } from '@preact/signals';
import { Link } from 'wouter-preact';
import type { NodeCredential } from '../../contract/http.ts';
import type { NodeSummary } from '../../contract/model.ts';
import { ago, cleanNodeId, nodeIdText } from '../format.ts';
import { placeName } from '../state/mount-options.ts';
import { useApp } from '../state/store.ts';
import { ConfirmButton, Failure, useAction, useRead } from './actions.tsx';
import { CautionLine } from './caution-line.tsx';
import { Field, fieldText } from './forms.tsx';
import { HealthPanel } from './health.tsx';
import { Title } from './title.tsx';

export function Nodes() {
  const { api } = useApp();
  const { data, failure, again } = useRead<NodeSummary[]>(() => api.nodes(), '');
  const credential = useSignal<NodeCredential | null>(null);
  const nodes = data.value;
  return (
    <>
      <Title>Nodes</Title>
      <p class="lead">
        A node is a small board with one or more sensors. The station takes data only from enrolled nodes.
      </p>
      <Failure failure={failure.value} />
      {nodes?.length === 0 && <p class="panel none">No node is enrolled yet.</p>}
      {nodes && nodes.length > 0 && (
        <ul class="cards">
          {nodes.map((node) => (
            <NodeCard key={node.nodeId} node={node} onRevoked={again} />
          ))}
        </ul>
      )}
      {credential.value ? (
        <NewCredential
          credential={credential.value}
          onDone={() => {
            credential.value = null;
          }}
        />
      ) : (
        <Enrol
          onEnrolled={(fresh) => {
            credential.value = fresh;
            again();
          }}
        />
      )}
      <HealthPanel />
      <CautionLine>Keep nodes, batteries and cables away from anything hot or turning.</CautionLine>
    </>
  );
}

function NodeCard({ node, onRevoked }: { node: NodeSummary; onRevoked(): void }) {
  const { api, state, nowMs } = useApp();
  const assets = useComputed(() => state.value.assets).value ?? [];
  const seen = useComputed(() => {
    if (node.lastSeenMs === null) return 'never heard';
    const age = ago(nowMs.value - node.lastSeenMs);
    return age === 'now' ? 'heard just now' : `last heard ${age}`;
  });
  return (
    <li class="panel">
      <h2>{node.label}</h2>
      <p>
        <code>{nodeIdText(node.nodeId)}</code> · {seen}
      </p>
      {node.sensors.length > 0 && (
        <ul class="plain">
          {node.sensors.map(({ sensor, locationId }) => (
            <li key={sensor}>
              Sensor {sensor + 1}:{' '}
              {locationId === null ? (
                'not mounted'
              ) : (
                <Link href={`/location/${locationId}`}>{placeName(assets, locationId)}</Link>
              )}
            </li>
          ))}
        </ul>
      )}
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
          The station refuses this node from now on. To use it again, enrol it anew and flash the new
          password.
        </p>
      </ConfirmButton>
    </li>
  );
}

function Enrol({ onEnrolled }: { onEnrolled(credential: NodeCredential): void }) {
  const { api } = useApp();
  const action = useAction();
  const submit = (event: Event) => {
    event.preventDefault();
    const request = { nodeId: cleanNodeId(fieldText(event, 'nodeId')), label: fieldText(event, 'label') };
    void action.run(async () => onEnrolled(await api.enrolNode(request)));
  };
  return (
    <section class="panel" aria-labelledby="enrol-heading">
      <h2 id="enrol-heading">Enrol a node</h2>
      <form onSubmit={submit}>
        <div class="in-line">
          <Field
            label="Hardware id"
            name="nodeId"
            required
            autocomplete="off"
            pattern="(0x)?([0-9a-fA-F][\s:\-]*){16}"
            title="16 digits of 0 to 9 and a to f"
            hint="16 digits of 0 to 9 and a to f, printed by the node when it starts."
          />
          <Field
            label="Label"
            name="label"
            required
            maxLength={80}
            autocomplete="off"
            hint="What is written on its case"
          />
        </div>
        <Failure failure={action.failure.value} />
        <button type="submit" class="main" disabled={action.busy.value}>
          Enrol
        </button>
      </form>
    </section>
  );
}

function NewCredential({ credential, onDone }: { credential: NodeCredential; onDone(): void }) {
  const { state } = useApp();
  const site = useComputed(() => state.value.session?.site ?? '').value;
  return (
    <section class="panel strong" aria-labelledby="credential-heading">
      <h2 id="credential-heading">Flash these into the node now</h2>
      <p role="alert">The password is shown only this once. The station keeps no copy that could be read.</p>
      <dl>
        <dt>User name (node id)</dt>
        <dd>
          <code>{credential.nodeId}</code>
        </dd>
        <dt>Password</dt>
        <dd>
          <code>{credential.password}</code>
        </dd>
        <dt>Site</dt>
        <dd>
          <code>{site}</code>
        </dd>
        <dt>Broker</dt>
        <dd>this station’s address and the MQTT port that it prints when it starts</dd>
      </dl>
      <button type="button" class="main" onClick={onDone}>
        Done, hide it
      </button>
    </section>
  );
}
