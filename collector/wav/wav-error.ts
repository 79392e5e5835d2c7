export type WavErrorCode =
  | 'WAV_UNREADABLE'
  | 'WAV_EMPTY'
  | 'WAV_NOT_A_WAV'
  | 'WAV_UNSUPPORTED'
  | 'WAV_BAD_HEADER'
  | 'WAV_NO_SAMPLES'
  | 'WAV_TRUNCATED'
  | 'WAV_NOT_A_NUMBER';

/** What is wrong with a recording, at which byte of the file, and what to do about it. */
export class WavError extends Error {
  readonly code: WavErrorCode;
  readonly path: string;
  /** Null when the file cannot be opened at all. */
  readonly byteOffset: number | null;
  readonly remedy: string;

  constructor(code: WavErrorCode, path: string, byteOffset: number | null, what: string, remedy: string) {
    super(`${path}: ${what}${byteOffset === null ? '' : ` (byte ${byteOffset})`}`);
    this.name = 'WavError';
    this.code = code;
    this.path = path;
    this.byteOffset = byteOffset;
    this.remedy = remedy;
  }
}
