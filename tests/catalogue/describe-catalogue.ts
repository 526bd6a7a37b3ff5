import type pg from 'pg'

/**
 * Everything of the schema that decides who may see or change what, as plain lines in a fixed order, so that a change
 * of a lock shows in review as a changed line. Left out is what differs between servers of different major versions:
 * NOT NULL as a constraint of its own (18), the owner's own rights.
 */
export async function describeCatalogue(client: pg.Client): Promise<string> {
  const lines: string[] = []
  for (const [title, sql] of SECTIONS) {
    const { rows } = await client.query<{ line: string }>(sql)
    lines.push(`== ${title}`, ...rows.map((row) => row.line), '')
  }
  return lines.join('\n')
}

const OURS = `n.nspname = 'public' and c.relname <> '_prisma_migrations'`
const ROLE = (oid: string) => `case when ${oid} = 0 then 'PUBLIC' else pg_get_userbyid(${oid})::text end`

const SECTIONS: readonly (readonly [string, string])[] = [
  [
    'roles',
    `select concat_ws(' ', r.rolname, case when r.rolcanlogin then 'login' else 'nologin' end,
       case when r.rolsuper then 'SUPERUSER' end, case when r.rolbypassrls then 'BYPASSRLS' end,
       case when r.rolinherit then 'INHERIT' end, case when r.rolcreaterole then 'CREATEROLE' end,
       case when r.rolcreatedb then 'CREATEDB' end, array_to_string(s.setconfig, ' ')) as line
     from pg_roles r left join pg_db_role_setting s on s.setrole = r.oid and s.setdatabase = 0
     where starts_with(r.rolname, 'limb_ledger_') order by 1`,
  ],
  [
    'schema rights',
    `select concat_ws(' ', n.nspname, 'owner', pg_get_userbyid(n.nspowner), a.privilege_type, 'to', ${ROLE('a.grantee')}) as line
     from pg_namespace n, aclexplode(n.nspacl) a
     where n.nspname = 'public' and a.grantee <> n.nspowner order by 1`,
  ],
  [
    'tables, views and sequences',
    `select concat_ws(' ', case c.relkind when 'r' then 'table' when 'p' then 'partitioned' when 'v' then 'view'
         when 'm' then 'MATERIALIZED' when 'S' then 'sequence' else c.relkind::text end,
       c.relname, 'owner', pg_get_userbyid(c.relowner), case when c.relrowsecurity then 'rls' end,
       case when c.relforcerowsecurity then 'forced' end, array_to_string(c.reloptions, ' ')) as line
     from pg_class c join pg_namespace n on n.oid = c.relnamespace
     where ${OURS} and c.relkind not in ('i', 'I', 't', 'c') order by c.relkind, c.relname`,
  ],
  [
    'columns',
    `select concat_ws(' ', c.relname || '.' || a.attname, format_type(a.atttypid, a.atttypmod),
       case when a.attnotnull then 'not null' end, 'default ' || pg_get_expr(d.adbin, d.adrelid),
       case when a.attidentity <> '' then 'identity ' || a.attidentity::text end,
       case when a.attstorage <> t.typstorage then 'storage ' || a.attstorage::text end) as line
     from pg_attribute a join pg_class c on c.oid = a.attrelid join pg_namespace n on n.oid = c.relnamespace
     join pg_type t on t.oid = a.atttypid
     left join pg_attrdef d on d.adrelid = a.attrelid and d.adnum = a.attnum
     where ${OURS} and c.relkind in ('r', 'p', 'v') and a.attnum > 0 and not a.attisdropped
     order by c.relname, a.attnum`,
  ],
  [
    'constraints',
    `select c.relname || ' ' || k.conname || ' ' || pg_get_constraintdef(k.oid) as line
     from pg_constraint k join pg_class c on c.oid = k.conrelid join pg_namespace n on n.oid = c.relnamespace
     where ${OURS} and k.contype <> 'n' order by c.relname, k.conname`,
  ],
  [
    'indexes',
    `select pg_get_indexdef(i.indexrelid) as line
     from pg_index i join pg_class c on c.oid = i.indrelid join pg_namespace n on n.oid = c.relnamespace
     where ${OURS} order by c.relname, i.indexrelid::regclass::text`,
  ],
  [
    'policies',
    `select concat_ws(' ', c.relname, p.polname, case when p.polpermissive then 'permissive' else 'restrictive' end,
       'for', p.polcmd::text, 'to', (select string_agg(${ROLE('r')}, ',' order by 1) from unnest(p.polroles) r),
       'using', pg_get_expr(p.polqual, p.polrelid), 'with check', pg_get_expr(p.polwithcheck, p.polrelid)) as line
     from pg_policy p join pg_class c on c.oid = p.polrelid join pg_namespace n on n.oid = c.relnamespace
     where ${OURS} order by c.relname, p.polname`,
  ],
  [
    'rights on tables, views and sequences',
    `select ${ROLE('a.grantee')} || ' ' || string_agg(a.privilege_type || case when a.is_grantable then '*' else '' end,
       ',' order by a.privilege_type) || ' on ' || c.relname as line
     from pg_class c join pg_namespace n on n.oid = c.relnamespace, aclexplode(c.relacl) a
     where n.nspname = 'public' and a.grantee <> c.relowner group by a.grantee, c.relname order by 1`,
  ],
  [
    'rights on columns',
    `select ${ROLE('a.grantee')} || ' ' || a.privilege_type || ' on ' || c.relname || ' (' ||
       string_agg(t.attname, ', ' order by t.attname) || ')' as line
     from pg_attribute t join pg_class c on c.oid = t.attrelid join pg_namespace n on n.oid = c.relnamespace,
       aclexplode(t.attacl) a
     where n.nspname = 'public' group by a.grantee, a.privilege_type, c.relname order by 1`,
  ],
  [
    'triggers',
    `select c.relname || ' ' || pg_get_triggerdef(g.oid) as line
     from pg_trigger g join pg_class c on c.oid = g.tgrelid join pg_namespace n on n.oid = c.relnamespace
     where ${OURS} and not g.tgisinternal order by 1`,
  ],
  [
    'functions, with who may call them',
    `select pg_get_functiondef(f.oid) || coalesce('-- ' || (select string_agg(${ROLE('a.grantee')}, ', ' order by 1)
       from aclexplode(f.proacl) a where a.grantee <> f.proowner), '-- ' ||
       case when f.proacl is null then 'PUBLIC, by default' else 'nobody' end) as line
     from pg_proc f join pg_namespace n on n.oid = f.pronamespace
     where n.nspname = 'public' and f.prokind in ('f', 'p') order by f.oid::regprocedure::text`,
  ],
]
