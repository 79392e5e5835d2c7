/** The door of this folder: virtual nodes, their samples and the demo. */
export { historyBegin } from './demo/history.ts';
export type { HistoryMessage, HistoryWorkerData } from './demo/history-worker.ts';
export { demoAssets } from './demo/scenario.ts';
export type { DemoWorkerData } from './demo/worker.ts';
export { recordingSource } from './recording-source.ts';
export { startVirtualNode, type VirtualNode } from './virtual-node.ts';
