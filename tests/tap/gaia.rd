<resource schema="gaiadr3" resdir="gaiadr3">
  <meta name="creationDate">2026-01-01T00:00:00Z</meta>
  <meta name="title">Stars for tests, in the shape of Gaia's source table</meta>
  <meta name="description">Real stars of open sources; see server_rows.py.</meta>
  <meta name="subject">surveys</meta>
  <meta name="creator.name">ESA/Gaia/DPAC</meta>

  <table id="gaia_source" onDisk="True" adql="True" primary="source_id">
    <index columns="phot_g_mean_mag"/>
    <column name="source_id" type="bigint" ucd="meta.id;meta.main" required="True"/>
    <column name="ra" type="double precision" unit="deg" ucd="pos.eq.ra;meta.main" required="True"/>
    <column name="dec" type="double precision" unit="deg" ucd="pos.eq.dec;meta.main" required="True"/>
    <column name="pmra" type="double precision" unit="mas/yr" ucd="pos.pm;pos.eq.ra"/>
    <column name="pmdec" type="double precision" unit="mas/yr" ucd="pos.pm;pos.eq.dec"/>
    <column name="phot_g_mean_mag" type="real" unit="mag" ucd="phot.mag;em.opt"/>
    <column name="phot_bp_mean_mag" type="real" unit="mag" ucd="phot.mag;em.opt.B"/>
    <column name="phot_rp_mean_mag" type="real" unit="mag" ucd="phot.mag;em.opt.R"/>
    <column name="ruwe" type="real" ucd="stat.error"/>
    <column name="in_galaxy_candidates" type="boolean" required="True" ucd="meta.code"/>
  </table>
  <data id="import"><nullGrammar/><make table="gaia_source"/></data>
</resource>
