import type { FastifyReply } from 'fastify';
import { ReportQuery } from '../../contract/reports.ts';
import type { App, Context } from '../context.ts';
import { closed, IdParams } from '../http/schemas.ts';
import { REPORT_POLICY } from '../report/page.ts';
import { printPdf } from '../report/pdf.ts';
import { createReporter } from '../report/reporter.ts';
import { directAnalyst, polite } from '../runs/analyst.ts';

export function reportRoutes(app: App, context: Context): void {
  const analyst = polite(context.analyst ?? directAnalyst);
  const reporter = createReporter({ ...context, analyst });
  const schema = { params: IdParams, querystring: closed(ReportQuery) };
  const options = ({ include }: ReportQuery) => ({ withNames: include === 'names-and-times' });

  app.get('/runs/:id/report', { schema }, async (request, reply) => {
    const { params, query } = request;
    return send(reply, await reporter.ofRun(params.id, options(query)), `report-run-${params.id}`, query);
  });

  app.get('/runs/:id/report.pdf', { schema }, async (request, reply) => {
    const { params, query } = request;
    const pdf = await printPdf(() => reporter.ofRun(params.id, options(query)));
    return sendPdf(reply, pdf, `report-run-${params.id}`);
  });

  app.get('/assets/:id/report.pdf', { schema }, async (request, reply) => {
    const { params, query } = request;
    const pdf = await printPdf(() => reporter.ofAsset(params.id, options(query)));
    return sendPdf(reply, pdf, `report-asset-${params.id}`);
  });

  app.get('/assets/:id/report', { schema }, async (request, reply) => {
    const { params, query } = request;
    return send(reply, await reporter.ofAsset(params.id, options(query)), `report-asset-${params.id}`, query);
  });
}

function sendPdf(reply: FastifyReply, pdf: Buffer, name: string): FastifyReply {
  return reply
    .type('application/pdf')
    .header('content-disposition', `attachment; filename="${name}.pdf"`)
    .send(pdf);
}

function send(reply: FastifyReply, page: string, name: string, { download }: ReportQuery): FastifyReply {
  const how = download === true ? 'attachment' : 'inline';
  return reply
    .type('text/html; charset=utf-8')
    .header('content-disposition', `${how}; filename="${name}.html"`)
    .header('content-security-policy', `${REPORT_POLICY}; frame-ancestors 'none'`)
    .header('referrer-policy', 'no-referrer')
    .send(page);
}
