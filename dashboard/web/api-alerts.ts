/** Calls that concern alerts. */
import type {
  AcknowledgeRequest,
  Alert,
  AlertAccount,
  AlertRecipient,
  AlertRecipientRequest,
  AlertSettings,
} from '../contract/alerts.ts';
import type { Call } from './api-runs.ts';

export function alertCalls(call: Call) {
  return {
    /** Open and over, newest first. */
    history: (assetId: number | null, beforeId?: number) =>
      call<Alert[]>(
        'GET',
        `/alerts?state=all${assetId === null ? '' : `&assetId=${assetId}`}${beforeId === undefined ? '' : `&beforeId=${beforeId}`}`,
      ),
    acknowledge: (id: number, request: AcknowledgeRequest) =>
      call<Alert>('POST', `/alerts/${id}/acknowledge`, request),
    settings: () => call<AlertSettings>('GET', '/alert-settings'),
    putSettings: (settings: AlertSettings) => call<AlertSettings>('PUT', '/alert-settings', settings),
    recipients: () => call<AlertRecipient[]>('GET', '/alert-recipients'),
    addRecipient: (request: AlertRecipientRequest) =>
      call<AlertRecipient>('POST', '/alert-recipients', request),
    removeRecipient: (id: number) => call('DELETE', `/alert-recipients/${id}`),
    test: (id: number) => call('POST', `/alert-recipients/${id}/test`),
    account: () => call<AlertAccount>('GET', '/alert-account'),
  };
}

export type AlertCalls = ReturnType<typeof alertCalls>;
