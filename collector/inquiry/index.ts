/** Questions about recorded samples that take processor time: meant to be answered off the event loop. */

import type { SideComparison } from '../tap/index.ts';
import { type Followed, type FollowQuestion, follow } from '../trend/index.ts';
import { type ClipsQuestion, renderClips } from './clips.ts';
import { type CompareRunQuestion, compareRun, type RunComparison } from './compare-run.ts';
import { digestRecordings, type RecordingDigest } from './digest.ts';
import type { OfPlace } from './each-place.ts';
import { type ExportedRecording, type ExportQuestion, exportRecording } from './export.ts';
import { type IntakeAnswer, type IntakeQuestion, takeIn } from './intake.ts';
import { type LinesPicture, type LinesQuestion, linesPicture } from './lines.ts';
import { type OrderLockAnswer, type OrderLockQuestion, orderLock } from './order-lock.ts';
import { comparePeers, type PeersAnswer, type PeersQuestion } from './peers.ts';
import { type PictureQuestion, type SpectrogramPicture, spectrogramPicture } from './picture.ts';
import { renderSound, type Sound, type SoundQuestion } from './sound.ts';
import { type SidesQuestion, type TapAnswer, type TapQuestion, tapSides, tapTest } from './taps.ts';

export { type RecordedStretch, recordedStretches } from './export.ts';
export type { IntakeAnswer } from './intake.ts';
export type { PeerRun } from './peers.ts';
export type { Condition, Mark } from './seconds.ts';
export { onlyPlaces, type RecordedFile, type Source } from './source.ts';

/** Kind of question -> its question and answer. All of it is plain data. */
export interface Inquiries {
  compare: { question: CompareRunQuestion; answer: RunComparison };
  peers: { question: PeersQuestion; answer: PeersAnswer };
  sound: { question: SoundQuestion; answer: Sound };
  clips: { question: ClipsQuestion; answer: OfPlace<Sound>[] };
  orderLock: { question: OrderLockQuestion; answer: OrderLockAnswer };
  picture: { question: PictureQuestion; answer: SpectrogramPicture };
  tap: { question: TapQuestion; answer: TapAnswer };
  sides: { question: SidesQuestion; answer: SideComparison };
  export: { question: ExportQuestion; answer: ExportedRecording };
  digests: { question: ExportQuestion; answer: OfPlace<RecordingDigest>[] };
  lines: { question: LinesQuestion; answer: LinesPicture };
  intake: { question: IntakeQuestion; answer: IntakeAnswer };
  follow: { question: FollowQuestion; answer: Followed };
}
export type InquiryKind = keyof Inquiries;
export type Question<Kind extends InquiryKind> = Inquiries[Kind]['question'];
export type Answer<Kind extends InquiryKind> = Inquiries[Kind]['answer'];

const WORK: { [Kind in InquiryKind]: (question: Question<Kind>) => Promise<Answer<Kind>> } = {
  compare: compareRun,
  peers: comparePeers,
  sound: renderSound,
  clips: renderClips,
  orderLock,
  picture: spectrogramPicture,
  tap: tapTest,
  sides: tapSides,
  export: exportRecording,
  digests: digestRecordings,
  lines: linesPicture,
  intake: takeIn,
  follow: async (question) => follow(question),
};

/**
 * @throws RangeError when the question cannot be answered from what was recorded, in words for a person; CaptureError,
 * WavError, BrokerError as the sources say
 */
export function answer<Kind extends InquiryKind>(
  kind: Kind,
  question: Question<Kind>,
): Promise<Answer<Kind>> {
  return WORK[kind](question);
}
