export { againstPeers, type PeerQuestion, type PeersResult } from './against-peers.ts';
export { type Band, thirdOctaves } from './bands.ts';
export { compareLocations } from './compare.ts';
export { compareMarks, type MarkComparison } from './marks.ts';
export type { CompareQuestion, LocationRecord, WindowMark } from './question.ts';
export type { Comparison, Verdict } from './result.ts';
