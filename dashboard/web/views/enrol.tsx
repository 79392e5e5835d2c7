/** Letting a node in: its password, and all else to flash into it. */
import { useComputed, useSignal } from '@preact/signals';
import type { NodeCredential } from '../../contract/http.ts';
import type { StationAddress } from '../../contract/rig.ts';
import { cleanNodeId } from '../format.ts';
import { useApp, useIsShop } from '../state/store.ts';
import { Failure, useAction, useRead } from './actions.tsx';
import { Field, fieldText } from './forms.tsx';

interface EnrolProps {
  /** Identity of a node that has knocked; empty for none. */
  nodeId: string;
  onEnrolled(credential: NodeCredential): void;
}

export function Enrol({ nodeId, onEnrolled }: EnrolProps) {
  const { api } = useApp();
  const isShop = useIsShop();
  const action = useAction();
  const submit = (event: Event) => {
    event.preventDefault();
    const request = { nodeId: cleanNodeId(fieldText(event, 'nodeId')), label: fieldText(event, 'label') };
    void action.run(async () => onEnrolled(await api.enrolNode(request)));
  };
  return (
    <section class="panel" aria-labelledby="enrol-heading">
      <h2 id="enrol-heading">Enrol a node</h2>
      {!isShop ? (
        <p>Somebody with the role shop enrols nodes.</p>
      ) : (
        <form onSubmit={submit} key={nodeId}>
          <div class="in-line">
            <Field
              label="Hardware id"
              name="nodeId"
              required
              autocomplete="off"
              pattern="(0x)?([0-9a-fA-F][\s:\-]*){16}"
              title="16 digits of 0 to 9 and a to f"
              hint="16 digits of 0 to 9 and a to f, printed by the node when it starts."
              defaultValue={nodeId}
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
      )}
    </section>
  );
}

export function NewCredential({ credential, onDone }: { credential: NodeCredential; onDone(): void }) {
  const { api, state } = useApp();
  const site = useComputed(() => state.value.session?.site ?? '').value;
  const { data } = useRead<StationAddress>(() => api.station(), '');
  const mqtt = data.value?.mqtt;
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
        <dd>
          {mqtt ? (
            <>
              <code>{mqtt.hosts[0]}</code>, port <code>{mqtt.port}</code>,{' '}
              {mqtt.tls ? 'encrypted (TLS)' : 'not encrypted'}
              {mqtt.hosts.length > 1 && `. Also at ${mqtt.hosts.slice(1).join(', ')}`}
            </>
          ) : (
            'this station’s address and the MQTT port that it prints when it starts'
          )}
        </dd>
        {mqtt?.certificateSha256 && (
          <>
            <dt>Fingerprint of the certificate to trust (SHA-256)</dt>
            <dd>
              <code class="long">{mqtt.certificateSha256}</code>
            </dd>
          </>
        )}
      </dl>
      {mqtt?.thisComputerOnly && (
        <p class="caution-line">
          The station listens on this computer only, so no board can reach it. Start it with --listen 0.0.0.0
          --tls.
        </p>
      )}
      {credential.header && <HeaderFile text={credential.header} />}
      <button type="button" class="main" onClick={onDone}>
        Done, hide it
      </button>
    </section>
  );
}

/** The same as a C header, to be saved beside the node's firmware. */
function HeaderFile({ text }: { text: string }) {
  const copied = useSignal('');
  const copy = async () => {
    try {
      await navigator.clipboard.writeText(text);
      copied.value = 'Copied.';
    } catch {
      copied.value = 'The browser does not allow copying here: mark the text and copy it.';
    }
  };
  return (
    <details>
      <summary>As a C header, node-settings.h</summary>
      <pre>{text}</pre>
      <div class="buttons">
        <a class="button" download="node-settings.h" href={`data:text/x-c,${encodeURIComponent(text)}`}>
          Save the file
        </a>
        <button type="button" onClick={() => void copy()}>
          Copy
        </button>
        <span role="status">{copied.value}</span>
      </div>
    </details>
  );
}
