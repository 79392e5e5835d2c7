/** Sensor nodes: whether each is sound, where its sensors sit, finding a clamp, letting nodes in. */
import { useSignal } from '@preact/signals';
import type { NodeCredential } from '../../contract/http.ts';
import type { NodeSummary } from '../../contract/model.ts';
import type { RefusedLogin } from '../../contract/rig.ts';
import { useApp } from '../state/store.ts';
import { Failure } from './actions.tsx';
import { CautionLine } from './caution-line.tsx';
import { Enrol, NewCredential } from './enrol.tsx';
import { FindClamp } from './find-clamp.tsx';
import { HealthPanel } from './health.tsx';
import { NodeCard } from './node-card.tsx';
import { usePolled } from './polled.ts';
import { RefusedLogins } from './refused-logins.tsx';
import { StationLimits } from './station-limits.tsx';
import { Title } from './title.tsx';
import { WaitingSensors } from './waiting-sensors.tsx';

const REFRESH_MS = 5_000;

export function Nodes() {
  const { api } = useApp();
  const { data, failure, again } = usePolled<NodeSummary[]>(() => api.nodes(), '', REFRESH_MS);
  const refused = usePolled<RefusedLogin[]>(() => api.refusedLogins(), '', REFRESH_MS);
  const credential = useSignal<NodeCredential | null>(null);
  const knocked = useSignal('');
  const nodes = data.value;
  return (
    <>
      <Title>Nodes</Title>
      <p class="lead">
        A node is a small board with one or more sensors. The station takes data only from enrolled nodes.
      </p>
      <Failure failure={failure.value} />
      {nodes && nodes.length > 0 && <FindClamp nodes={nodes} />}
      {nodes && <WaitingSensors nodes={nodes} onMounted={again} />}
      {nodes?.length === 0 && <p class="panel none">No node is enrolled yet.</p>}
      {nodes && nodes.length > 0 && (
        <ul class="cards nodes">
          {nodes.map((node) => (
            <NodeCard key={node.nodeId} node={node} onRevoked={again} />
          ))}
        </ul>
      )}
      {refused.data.value && (
        <RefusedLogins
          logins={refused.data.value}
          onEnrol={(nodeId) => {
            knocked.value = nodeId;
            document.querySelector<HTMLInputElement>('input[name="label"]')?.focus();
          }}
        />
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
          nodeId={knocked.value}
          onEnrolled={(fresh) => {
            credential.value = fresh;
            knocked.value = '';
            again();
          }}
        />
      )}
      <StationLimits />
      <HealthPanel />
      <CautionLine>Keep nodes, batteries and cables away from anything hot or turning.</CautionLine>
    </>
  );
}
