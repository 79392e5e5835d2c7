/** One sensor as a thing: part, serial number, tolerance, and its checks against gravity and on a shaker. */
import { useSignal } from '@preact/signals';
import { Link } from 'wouter-preact';
import type { NodeSummary } from '../../contract/model.ts';
import type { SensorRecord, SensorRequest } from '../../contract/rig.ts';
import { moment, nodeIdText, significant } from '../format.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction, useRead } from './actions.tsx';
import { CheckTable } from './check-table.tsx';
import { Field, fieldText } from './forms.tsx';
import { GravityCheck } from './gravity-check.tsx';
import { ShakerCheck, ShakerResult } from './shaker-check.tsx';
import { Title } from './title.tsx';

const G_M_PER_S2 = 9.80665;

export function SensorPage({ nodeId, sensor }: { nodeId: string; sensor: number }) {
  const { api } = useApp();
  const nodes = useRead<NodeSummary[]>(() => api.nodes(), nodeId);
  const records = useRead<SensorRecord[]>(() => api.sensors(), nodeId);
  const node = nodes.data.value?.find((one) => one.nodeId === nodeId);
  const record = records.data.value?.find((one) => one.nodeId === nodeId && one.sensor === sensor);
  if (nodes.data.value && !node)
    return (
      <>
        <Title>No such node</Title>
        <p>
          It may have been revoked. <Link href="/nodes">All nodes</Link>
        </p>
      </>
    );
  const axes = node?.health?.sensors.find((one) => one.sensor === sensor);
  return (
    <>
      <p class="crumb">
        <Link href="/nodes">Nodes</Link> / {node?.label ?? '…'}
      </p>
      <Title>Sensor {sensor + 1}</Title>
      <p class="lead">
        <code>{nodeIdText(nodeId)}</code>
      </p>
      <Failure failure={nodes.failure.value ?? records.failure.value} />
      <Known record={record} />
      {axes && axes.gravityMPerS2 === null ? (
        <p class="panel none">
          This sensor does not tell its direction to gravity, so it cannot be checked against it.
        </p>
      ) : (
        <GravityCheck nodeId={nodeId} sensor={sensor} onSaved={records.again} />
      )}
      <ShakerCheck nodeId={nodeId} sensor={sensor} onSaved={records.again} />
      {records.data.value && (
        <Inventory nodeId={nodeId} sensor={sensor} record={record} onSaved={records.again} />
      )}
    </>
  );
}

function Known({ record }: { record: SensorRecord | undefined }) {
  const { nowMs } = useApp();
  const check = record?.gravityCheck;
  const shaken = record?.shakerCheck;
  const isShakerNewest = (shaken?.atMs ?? 0) > (check?.atMs ?? 0);
  const source = isShakerNewest
    ? `by the shaker check of ${moment(shaken!.atMs, nowMs.value)}`
    : check
      ? `by the gravity check of ${moment(check.atMs, nowMs.value)}`
      : 'by its data sheet';
  return (
    <section class="panel" aria-labelledby="known-heading">
      <h2 id="known-heading">Tolerance</h2>
      {record?.tolerancePct == null ? (
        <p>
          Not known. Until it is, ± 5 % is taken for the sensor’s scale, as for unchecked parts of its kind.
        </p>
      ) : (
        <p>
          Levels of this sensor may be off by ± {significant(record.tolerancePct, 2)} % for its scale,{' '}
          {source}. It counts in the ± of every level; levels themselves are never changed by it.
        </p>
      )}
      {shaken && <ShakerResult check={shaken} />}
      {check && <CheckTable check={check} />}
    </section>
  );
}

function Inventory({
  nodeId,
  sensor,
  record,
  onSaved,
}: {
  nodeId: string;
  sensor: number;
  record: SensorRecord | undefined;
  onSaved(): void;
}) {
  const { api } = useApp();
  const action = useAction();
  const saved = useSignal(false);
  const submit = (event: Event) => {
    event.preventDefault();
    const number = (name: string) => {
      const text = fieldText(event, name);
      return text === '' ? null : Number(text);
    };
    const noise = number('noise');
    const request: SensorRequest = {
      part: fieldText(event, 'part'),
      serial: fieldText(event, 'serial'),
      // Data sheets give µg; the station keeps µm/s².
      noiseDensityUmPerS2PerRtHz: noise === null ? null : noise * G_M_PER_S2,
      tolerancePct: number('tolerance'),
    };
    saved.value = false;
    void action.run(async () => {
      await api.describeSensor(nodeId, sensor, request);
      onSaved();
      saved.value = true;
    });
  };
  const noise = record?.noiseDensityUmPerS2PerRtHz ?? null;
  return (
    <section class="panel" aria-labelledby="inventory-heading">
      <h2 id="inventory-heading">Inventory</h2>
      <form onSubmit={submit} key={JSON.stringify(record ?? null)}>
        <div class="in-line">
          <Field
            label="Part"
            name="part"
            maxLength={80}
            autocomplete="off"
            defaultValue={record?.part ?? ''}
          />
          <Field
            label="Serial number"
            name="serial"
            maxLength={80}
            autocomplete="off"
            defaultValue={record?.serial ?? ''}
          />
          <Field
            label="Noise density, µg/√Hz"
            name="noise"
            type="number"
            inputMode="decimal"
            {...{ min: 0.01, max: 100_000, step: 'any' }}
            hint="Data sheet, “noise density”"
            defaultValue={noise === null ? '' : String(Number((noise / G_M_PER_S2).toPrecision(4)))}
          />
          <Field
            label="Tolerance of its scale, ± %"
            name="tolerance"
            type="number"
            inputMode="decimal"
            {...{ min: 0.1, max: 100, step: 'any' }}
            hint="Data sheet, “sensitivity”; a check counts for more"
            defaultValue={record?.dataSheetTolerancePct == null ? '' : String(record.dataSheetTolerancePct)}
          />
        </div>
        <Failure failure={action.failure.value} />
        <div class="buttons">
          <button type="submit" disabled={action.busy.value}>
            Save
          </button>
          <span role="status">{saved.value ? 'Saved.' : ''}</span>
        </div>
      </form>
    </section>
  );
}
