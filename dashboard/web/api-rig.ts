/** Calls that concern nodes and sensors as things. */
import type { Location } from '../contract/model.ts';
import type {
  FeltTap,
  GravityCheckState,
  RefusedLogin,
  SensorRecord,
  SensorRequest,
  ShakerReference,
  StationAddress,
  StationSettings,
} from '../contract/rig.ts';

export interface RigApi {
  station(): Promise<StationAddress>;
  refusedLogins(): Promise<RefusedLogin[]>;
  taps(): Promise<FeltTap[]>;
  sensors(): Promise<SensorRecord[]>;
  describeSensor(nodeId: string, sensor: number, request: SensorRequest): Promise<SensorRecord>;
  beginGravityCheck(nodeId: string, sensor: number): Promise<GravityCheckState>;
  gravityCheck(nodeId: string, sensor: number): Promise<GravityCheckState>;
  saveGravityCheck(nodeId: string, sensor: number): Promise<SensorRecord>;
  giveUpGravityCheck(nodeId: string, sensor: number): Promise<unknown>;
  checkOnShaker(nodeId: string, sensor: number, reference: ShakerReference): Promise<SensorRecord>;
  confirmMount(locationId: number): Promise<Location>;
  settings(): Promise<StationSettings>;
  changeSettings(settings: StationSettings): Promise<StationSettings>;
}

type Call = <Answer>(method: string, path: string, body?: unknown) => Promise<Answer>;

export function rigCalls(call: Call): RigApi {
  const ofSensor = (nodeId: string, sensor: number) => `/nodes/${nodeId}/sensors/${sensor}`;
  return {
    station: () => call('GET', '/station'),
    refusedLogins: () => call('GET', '/nodes/refused'),
    taps: () => call('GET', '/felt-taps'),
    sensors: () => call('GET', '/sensors'),
    describeSensor: (nodeId, sensor, request) => call('PUT', ofSensor(nodeId, sensor), request),
    beginGravityCheck: (nodeId, sensor) => call('POST', `${ofSensor(nodeId, sensor)}/gravity-check`),
    gravityCheck: (nodeId, sensor) => call('GET', `${ofSensor(nodeId, sensor)}/gravity-check`),
    saveGravityCheck: (nodeId, sensor) => call('POST', `${ofSensor(nodeId, sensor)}/gravity-check/save`),
    giveUpGravityCheck: (nodeId, sensor) => call('DELETE', `${ofSensor(nodeId, sensor)}/gravity-check`),
    checkOnShaker: (nodeId, sensor, reference) =>
      call('POST', `${ofSensor(nodeId, sensor)}/shaker-check`, reference),
    confirmMount: (locationId) => call('POST', `/locations/${locationId}/mount/confirm`),
    settings: () => call('GET', '/settings'),
    changeSettings: (settings) => call('PUT', '/settings', settings),
  };
}
