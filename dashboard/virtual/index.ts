/** The door of this folder: virtual nodes, their samples and the demo. */
export { demoAssets } from './demo/scenario.ts';
export { type NodeIdentity, startVirtualNode, type VirtualNode } from './virtual-node.ts';
