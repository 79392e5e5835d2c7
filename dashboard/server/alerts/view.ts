import type { Alert, AlertMessage } from '../../contract/alerts.ts';
import { safetyCaution } from '../deciding/part-kind.ts';
import type { AlertRecord } from '../records/alerts.ts';
import type { RecordStore } from '../records/record-store.ts';
import { alertWords, type Named } from './words.ts';

/** An alert as people are told it on the page. */
export function alertView(records: RecordStore, alert: AlertRecord): Alert {
  return viewOf(alert, namesOf(records, alert));
}

/** An alert as it may leave the station: with names, or with numbers in their place. */
export function outsideView(records: RecordStore, alert: AlertRecord): Alert {
  const named = namesOf(records, alert);
  if (records.alertRecipients.settings().namesInMessages) return viewOf(alert, named);
  const numbered = (what: string, id: number | null) => (id === null ? null : `${what} ${id}`);
  return viewOf(alert, {
    ...named,
    assetName: numbered('Asset', alert.assetId),
    location: numbered('location', alert.locationId),
    component: null,
    nodeLabel: alert.nodeId,
  });
}

function viewOf(alert: AlertRecord, named: Named): Alert {
  const { acknowledgedMs, acknowledgedBy, note, cause: _, ...rest } = alert;
  return {
    ...rest,
    assetName: named.assetName,
    location: named.location,
    component: named.component,
    acknowledged:
      acknowledgedMs === null ? null : { atMs: acknowledgedMs, by: acknowledgedBy ?? '', note: note ?? '' },
    ...alertWords(alert, named),
  };
}

function namesOf(records: RecordStore, { assetId, locationId, nodeId }: AlertRecord): Named {
  const { assets, nodes } = records;
  const asset = assetId === null ? null : assets.asset(assetId);
  const place = locationId === null ? null : assets.location(locationId);
  const node = nodeId === null ? null : nodes.list().find((one) => one.nodeId === nodeId);
  return {
    assetName: asset?.name ?? null,
    assetKind: asset?.kind ?? null,
    location: place?.name ?? null,
    component: place?.component ?? null,
    nodeLabel: node?.label ?? nodeId,
    caution: place === null ? null : safetyCaution(records, place),
  };
}

/** What may leave the station: who acknowledged it and the note stay. */
export function messageOf(
  site: string,
  messageId: string,
  event: AlertMessage['event'],
  atMs: number,
  alert: Alert | null,
): AlertMessage {
  if (alert === null) return { messageId, site, event, atMs, alert };
  const { acknowledged: _, lastSeenMs: __, clearedWhy: ___, ...told } = alert;
  return { messageId, site, event, atMs, alert: told };
}
