/** Typed calls to the station's HTTP interface. A refusal becomes an `ApiFailure` that a view can show as it is. */
import type { DriveTrain, FindingRecord, FindingsRequest, KnownBearing } from '../contract/drive-train.ts';
import type {
  AssetRequest,
  Health,
  LocationRequest,
  LoginRequest,
  MountRequest,
  NodeCredential,
  NodeRequest,
  SetupRequest,
  SpectrumQuery,
  TrendQuery,
} from '../contract/http.ts';
import type {
  ApiError,
  Asset,
  KeptSpectrum,
  Location,
  NodeSummary,
  SessionState,
  Trend,
} from '../contract/model.ts';
import type { Sites } from '../contract/sites.ts';
import { type RigApi, rigCalls } from './api-rig.ts';
import { type Call, type RunApi, runCalls } from './api-runs.ts';

export class ApiFailure extends Error {
  readonly status: number;
  readonly code: string;
  readonly remedy: string | undefined;
  /** Path of the field that cannot be used. */
  readonly field: string | undefined;
  constructor(status: number, error: ApiError) {
    super(error.message);
    this.name = 'ApiFailure';
    this.status = status;
    this.code = error.code;
    this.remedy = error.remedy;
    this.field = error.field;
  }
}

type Fetch = typeof fetch;

export interface Api extends RigApi, RunApi {
  /** For pages that are loaded when they are first opened and bring their own calls. */
  call: Call;
  session(): Promise<SessionState>;
  setup(request: SetupRequest): Promise<SessionState>;
  login(request: LoginRequest): Promise<SessionState>;
  logout(): Promise<SessionState>;
  startDemo(): Promise<unknown>;
  assets(): Promise<Asset[]>;
  addAsset(request: AssetRequest): Promise<Asset>;
  changeAsset(id: number, request: Partial<AssetRequest>): Promise<Asset>;
  deleteAsset(id: number): Promise<unknown>;
  addLocation(assetId: number, request: LocationRequest): Promise<Location>;
  changeLocation(id: number, request: Partial<LocationRequest>): Promise<Location>;
  deleteLocation(id: number): Promise<unknown>;
  mount(locationId: number, request: MountRequest): Promise<Location>;
  nodes(): Promise<NodeSummary[]>;
  enrolNode(request: NodeRequest): Promise<NodeCredential>;
  revokeNode(nodeId: string): Promise<unknown>;
  trend(locationId: number, query: TrendQuery): Promise<Trend>;
  spectrum(locationId: number, query: SpectrumQuery): Promise<KeptSpectrum>;
  driveTrain(assetId: number): Promise<DriveTrain>;
  putDriveTrain(assetId: number, train: DriveTrain): Promise<DriveTrain>;
  knownBearings(): Promise<KnownBearing[]>;
  findings(locationId: number): Promise<FindingRecord[]>;
  /** Takes some seconds. */
  lookForFindings(locationId: number, request: FindingsRequest): Promise<FindingRecord>;
  health(): Promise<Health>;
  /** Of every station that shares a database with this one. */
  sites(): Promise<Sites>;
}

/** `onSignedOut` is told when the station no longer knows the session. */
export function createApi(fetcher: Fetch, onSignedOut: () => void): Api {
  async function call<Answer>(method: string, path: string, body?: unknown): Promise<Answer> {
    let response: Response;
    try {
      response = await fetcher(`/api${path}`, {
        method,
        ...(body === undefined
          ? {}
          : body instanceof Blob
            ? { headers: { 'content-type': body.type }, body }
            : { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }),
      });
    } catch {
      throw new ApiFailure(0, {
        code: 'STATION_UNREACHABLE',
        message: 'The station did not answer.',
        remedy: 'Check that it is switched on and that this device is in the same network, then try again.',
      });
    }
    const answer = await readJson(response);
    if (response.ok) return answer as Answer;
    if (response.status === 401 && path !== '/login') onSignedOut();
    throw new ApiFailure(response.status, isApiError(answer) ? answer : unexplained(response.status));
  }

  return {
    call,
    session: () => call('GET', '/session'),
    setup: (request) => call('POST', '/setup', request),
    login: (request) => call('POST', '/login', request),
    logout: () => call('POST', '/logout'),
    startDemo: () => call('POST', '/demo'),
    assets: () => call('GET', '/assets'),
    addAsset: (request) => call('POST', '/assets', request),
    changeAsset: (id, request) => call('PATCH', `/assets/${id}`, request),
    deleteAsset: (id) => call('DELETE', `/assets/${id}`),
    addLocation: (assetId, request) => call('POST', `/assets/${assetId}/locations`, request),
    changeLocation: (id, request) => call('PATCH', `/locations/${id}`, request),
    deleteLocation: (id) => call('DELETE', `/locations/${id}`),
    mount: (locationId, request) => call('PUT', `/locations/${locationId}/mount`, request),
    nodes: () => call('GET', '/nodes'),
    enrolNode: (request) => call('POST', '/nodes', request),
    revokeNode: (nodeId) => call('DELETE', `/nodes/${nodeId}`),
    trend: (locationId, query) => call('GET', `/locations/${locationId}/trend?${queryText(query)}`),
    spectrum: (locationId, query) => call('GET', `/locations/${locationId}/spectrum?${queryText(query)}`),
    driveTrain: (assetId) => call('GET', `/assets/${assetId}/drive-train`),
    putDriveTrain: (assetId, train) => call('PUT', `/assets/${assetId}/drive-train`, train),
    knownBearings: () => call('GET', '/bearings'),
    findings: (locationId) => call('GET', `/locations/${locationId}/findings`),
    lookForFindings: (locationId, request) => call('POST', `/locations/${locationId}/findings`, request),
    health: () => call('GET', '/health'),
    sites: () => call('GET', '/sites'),
    ...rigCalls(call),
    ...runCalls(call),
  };
}

const queryText = (query: TrendQuery | SpectrumQuery): string =>
  new URLSearchParams(
    Object.entries(query).map(([name, value]): [string, string] => [name, String(value)]),
  ).toString();

/** The answer's body; undefined when it is empty or not JSON (a proxy's error page, for example). */
async function readJson(response: Response): Promise<unknown> {
  const text = await response.text();
  try {
    return text === '' ? undefined : JSON.parse(text);
  } catch {
    return undefined;
  }
}

const isApiError = (answer: unknown): answer is ApiError =>
  typeof answer === 'object' && answer !== null && 'code' in answer && 'message' in answer;

const unexplained = (status: number): ApiError => ({
  code: `HTTP_${status}`,
  message: `The station answered with status ${status} and no explanation.`,
  remedy: 'Reload the page. If it stays, look at the station’s log.',
});
