/** Calls that concern runs. */
import type {
  CompareRequest,
  CompareResult,
  FollowRequest,
  FollowResult,
  PeersRequest,
  PeersResult,
  SidesRequest,
  SidesResult,
  Spectrogram,
  TapRequest,
  TapResult,
} from '../contract/inquiries.ts';
import type {
  ImportRequest,
  ManoeuvreChange,
  ManoeuvreGuide,
  ManoeuvreId,
  MarkChange,
  MarkRequest,
  RecordingTaken,
  Run,
  RunChange,
  RunRequest,
  RunSummary,
  SuspectReview,
} from '../contract/runs.ts';
import type { SlipRequest, SlipResult } from '../contract/slip.ts';

export interface RunApi {
  manoeuvres(): Promise<ManoeuvreGuide[]>;
  runs(assetId?: number): Promise<RunSummary[]>;
  run(id: number): Promise<Run>;
  startRun(request: RunRequest): Promise<Run>;
  changeRun(id: number, change: Partial<RunChange>): Promise<Run>;
  endRun(id: number): Promise<Run>;
  deleteRun(id: number): Promise<unknown>;
  mark(runId: number, request: MarkRequest): Promise<Run>;
  changeMark(runId: number, markId: number, change: Partial<MarkChange>): Promise<Run>;
  removeMark(runId: number, markId: number): Promise<Run>;
  beginManoeuvre(runId: number, manoeuvre: ManoeuvreId): Promise<Run>;
  changeManoeuvre(runId: number, id: number, change: Partial<ManoeuvreChange>): Promise<Run>;
  /** The file's type says what it is: audio/wav or text/csv. */
  sendRecording(file: Blob): Promise<RecordingTaken>;
  importRun(request: ImportRequest): Promise<Run>;
  suspects(runId: number): Promise<SuspectReview>;
  compare(runId: number, request: CompareRequest): Promise<CompareResult>;
  lastCompare(runId: number): Promise<CompareResult | null>;
  peers(runId: number, request: PeersRequest): Promise<PeersResult>;
  follow(runId: number, request: FollowRequest): Promise<FollowResult>;
  slip(runId: number, request: SlipRequest): Promise<SlipResult>;
  spectrogram(runId: number, locationId: number): Promise<Spectrogram>;
  tap(request: TapRequest): Promise<TapResult>;
  sides(request: SidesRequest): Promise<SidesResult>;
}

export type Call = <Answer>(method: string, path: string, body?: unknown) => Promise<Answer>;

export function runCalls(call: Call): RunApi {
  return {
    manoeuvres: () => call('GET', '/manoeuvres'),
    runs: (assetId) => call('GET', assetId === undefined ? '/runs' : `/runs?assetId=${assetId}`),
    run: (id) => call('GET', `/runs/${id}`),
    startRun: (request) => call('POST', '/runs', request),
    changeRun: (id, change) => call('PATCH', `/runs/${id}`, change),
    endRun: (id) => call('POST', `/runs/${id}/end`),
    deleteRun: (id) => call('DELETE', `/runs/${id}`),
    mark: (runId, request) => call('POST', `/runs/${runId}/marks`, request),
    changeMark: (runId, markId, change) => call('PATCH', `/runs/${runId}/marks/${markId}`, change),
    removeMark: (runId, markId) => call('DELETE', `/runs/${runId}/marks/${markId}`),
    beginManoeuvre: (runId, manoeuvre) => call('POST', `/runs/${runId}/manoeuvres`, { manoeuvre }),
    changeManoeuvre: (runId, id, change) => call('PATCH', `/runs/${runId}/manoeuvres/${id}`, change),
    compare: (runId, request) => call('POST', `/runs/${runId}/compare`, request),
    lastCompare: (runId) => call('GET', `/runs/${runId}/compare`),
    peers: (runId, request) => call('POST', `/runs/${runId}/peers`, request),
    follow: (runId, request) => call('POST', `/runs/${runId}/follow`, request),
    slip: (runId, request) => call('POST', `/runs/${runId}/slip`, request),
    spectrogram: (runId, locationId) => call('GET', `/runs/${runId}/spectrogram?locationId=${locationId}`),
    tap: (request) => call('POST', '/taps', request),
    sides: (request) => call('POST', '/taps/sides', request),
    sendRecording: (file) => call('POST', '/recordings', file),
    importRun: (request) => call('POST', '/runs/import', request),
    suspects: (runId) => call('GET', `/runs/${runId}/suspects`),
  };
}
