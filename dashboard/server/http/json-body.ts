import type { App } from '../context.ts';

/** JSON is the only body taken; an empty one counts as none, since browsers' helpers label those as JSON too. */
export function jsonBodiesOnly(app: App): void {
  app.removeAllContentTypeParsers();
  const parse = app.getDefaultJsonParser('error', 'error');
  app.addContentTypeParser('application/json', { parseAs: 'string' }, (request, body, done) => {
    if (body === '') done(null, undefined);
    else parse(request, body as string, done);
  });
}
