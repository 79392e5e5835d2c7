/** Text that is HTML already. Everything else is escaped where it is put in, so nothing a person typed can run. */
export interface Markup {
  readonly markup: string;
}

export type Part = string | number | Markup | null | false | readonly Part[];

/** A piece of HTML (or SVG); values are escaped, lists are joined, null and false leave nothing. */
export function html(texts: TemplateStringsArray, ...values: Part[]): Markup {
  let markup = texts[0]!;
  values.forEach((value, k) => {
    markup += rendered(value) + texts[k + 1]!;
  });
  return { markup };
}

function rendered(part: Part): string {
  if (part === null || part === false) return '';
  if (typeof part === 'string') return escapeHtml(part);
  if (typeof part === 'number') return String(part);
  if ('markup' in part) return part.markup;
  return part.map(rendered).join('');
}

/** Safe between tags and inside quoted attributes, in HTML and in XML. */
export function escapeHtml(text: string): string {
  return text
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('>', '&gt;')
    .replaceAll('"', '&quot;')
    .replaceAll("'", '&#39;');
}
