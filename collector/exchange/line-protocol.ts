/** One line of InfluxDB's line protocol. */
export interface ProtocolLine {
  measurement: string;
  tags: Map<string, string>;
  fields: Map<string, number | string>;
  timestamp: string;
}

/**
 * Reads one line; null for an empty one and a comment.
 *
 * Source: InfluxDB documentation, "Line protocol": a backslash escapes comma, equals sign and space outside of quoted
 * text, and quote and backslash in it; whole numbers end in `i` or `u`.
 *
 * @throws SyntaxError saying what is missing
 */
export function parseProtocolLine(line: string): ProtocolLine | null {
  if (line.trim() === '' || line.startsWith('#')) return null;
  let at = 0;

  /** Up to one of `ends` that is not escaped. */
  function token(ends: string): string {
    let text = '';
    for (; at < line.length && !ends.includes(line[at]!); at++) {
      if (line[at] === '\\' && at + 1 < line.length && ',= \\'.includes(line[at + 1]!)) at++;
      text += line[at];
    }
    return text;
  }

  function expect(character: string, what: string): void {
    if (line[at] !== character) throw new SyntaxError(what);
    at++;
  }

  function quoted(): string {
    let text = '';
    for (at++; line[at] !== '"'; at++) {
      if (at >= line.length) throw new SyntaxError('a quoted text does not end');
      if (line[at] === '\\' && '"\\'.includes(line[at + 1] ?? '')) at++;
      text += line[at];
    }
    at++;
    return text;
  }

  const measurement = token(', ');
  const tags = new Map<string, string>();
  while (line[at] === ',') {
    at++;
    const name = token('=, ');
    expect('=', `tag '${name}' has no value`);
    tags.set(name, token(', '));
  }
  expect(' ', 'there are no fields');
  const fields = new Map<string, number | string>();
  do {
    if (line[at] === ',') at++;
    const name = token('=, ');
    expect('=', `field '${name}' has no value`);
    fields.set(name, line[at] === '"' ? quoted() : numberOf(name, token(', ')));
  } while (line[at] === ',');
  expect(' ', 'there is no time');
  return { measurement, tags, fields, timestamp: line.slice(at).trim() };
}

function numberOf(name: string, text: string): number {
  const value = Number(text.replace(/[iu]$/, ''));
  if (text === '' || !Number.isFinite(value))
    throw new SyntaxError(`field '${name}' is '${text}', no number`);
  return value;
}
