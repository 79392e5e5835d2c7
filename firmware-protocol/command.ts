import { type Decoded, DecodeError, fail } from './errors.ts';
import { Kind, MAX_RATE_MILLI_HZ, MIN_RATE_MILLI_HZ } from './layout.ts';
import { begin, type Header, openSmall, seal, whole } from './wire.ts';

/** What a station can ask of a node. The node answers each with an event `command-done` or `command-refused`. */
type CommandAction =
  | { action: 'start' }
  | { action: 'stop' }
  /** The node takes the nearest rate its sensor has, draws a new boot id, and reports what it took. */
  | { action: 'set-rate'; rateHz: number }
  /** The node takes the smallest range that holds this value, and reports it. */
  | { action: 'set-range'; fullScaleMPerS2: number }
  /** Blink or beep, so that a person finds the board. 0 ends it. */
  | { action: 'identify'; seconds: number }
  /** Publish a status message now. */
  | { action: 'report' };

/** Station to node, topic kind `command`. `bootId` 0 addresses the node whatever its boot. */
export type Command = Header & { commandId: number } & CommandAction;

const ACTIONS = [null, 'start', 'stop', 'set-rate', 'set-range', 'identify', 'report'] as const;
const BYTES = 28;
const MAX_IDENTIFY_SECONDS = 600;

export function encodeCommand(command: Command): Uint8Array {
  const view = begin(Kind.Command, BYTES, command);
  view.setUint16(16, whole(command.commandId, 0, 0xffff, 'commandId'), true);
  view.setUint8(18, ACTIONS.indexOf(command.action));
  view.setUint32(20, argumentOf(command), true);
  return seal(view);
}

function argumentOf(command: CommandAction): number {
  switch (command.action) {
    case 'set-rate':
      return whole(Math.round(command.rateHz * 1e3), MIN_RATE_MILLI_HZ, MAX_RATE_MILLI_HZ, 'rate in mHz');
    case 'set-range':
      return whole(Math.round(command.fullScaleMPerS2 * 1e6), 1, 0xffffffff, 'full scale in um/s2');
    case 'identify':
      return whole(command.seconds, 0, MAX_IDENTIFY_SECONDS, 'seconds');
    default:
      return 0;
  }
}

export function decodeCommand(bytes: Uint8Array): Decoded<Command> {
  const opened = openSmall(bytes, Kind.Command, BYTES);
  if (!opened.ok) return opened;
  const { view, header } = opened;
  const action = actionOf(view.getUint8(18), view.getUint32(20, true));
  if (action === null) {
    return fail(
      DecodeError.BadField,
      `action ${view.getUint8(18)} with argument ${view.getUint32(20, true)}`,
    );
  }
  return { ok: true, message: { ...header, commandId: view.getUint16(16, true), ...action } };
}

function actionOf(code: number, argument: number): CommandAction | null {
  const action = ACTIONS[code];
  switch (action) {
    case 'start':
    case 'stop':
    case 'report':
      return argument === 0 ? { action } : null;
    case 'set-rate':
      if (argument < MIN_RATE_MILLI_HZ || argument > MAX_RATE_MILLI_HZ) return null;
      return { action, rateHz: argument / 1e3 };
    case 'set-range':
      return argument === 0 ? null : { action, fullScaleMPerS2: argument / 1e6 };
    case 'identify':
      return argument > MAX_IDENTIFY_SECONDS ? null : { action, seconds: argument };
    default:
      return null;
  }
}
