/** The door of this folder: virtual nodes, their samples and the demo. */
export { demoAssets } from './demo/scenario.ts';
export type { DemoWorkerData } from './demo/worker.ts';
export { recordingSource } from './recording-source.ts';
export { startVirtualNode, type VirtualNode } from './virtual-node.ts';
