// Made from api.json by scripts/types.mjs; do not edit.

/** Low and high at 95 %. */
export type Interval = [number, number];

/** A path's vertex: easting, northing, level, and the bulge of the way on. */
export type Vertex = [number, number, number | null, number];

export interface Failure {
  status: string;
  sentence: string;
  page: string;
  row: number;
  column: number;
  changes?: Change[];
}

export interface Change {
  revision: number;
  at: string;
  who: string;
  why: string;
  undone: boolean;
  rows: number;
}

export interface History {
  revision: number;
  changes: Change[];
}

export interface Done {
  revision: number;
  warnings?: string[];
  notes?: string;
}

export interface Stepped {
  revision: number;
  undone?: string;
  redone?: string;
  warnings?: string[];
}

export interface WorksDone {
  revision: number;
  works: unknown;
}

export interface Gear {
  name: string;
  source: string;
  preset: boolean;
  distance_m: number;
  distance_ppm: number;
  angle_rad: number;
  zenith_rad: number;
  centring_m: number;
  plan_m: number;
  height_m: number;
  staff_m: number;
  levelled_km_m: number;
  leg_m: number;
}

export interface GearList {
  gear: Gear[];
}

export interface Row {
  id: number;
  line: number;
  record: string;
  cells: string[];
  set_aside: string | null;
}

export interface Page {
  id: number;
  name: string;
  kind: string;
  visit: string;
  gear: string;
  site_frame: boolean;
  header: string;
  columns: string[];
  rows: Row[];
}

export interface FeatureVertex {
  point: string;
  edge: 'straight' | 'arc' | 'circle' | 'curve';
  ring: number;
}

export interface Path {
  closed: boolean;
  vertices: Vertex[];
}

export interface Feature {
  name: string;
  code: string;
  kind: 'line' | 'area' | 'spot';
  role: string;
  points: FeatureVertex[];
  paths: Path[];
  missing: string;
  length_m?: number | null;
  length_m_interval?: Interval;
  area_m2?: number | null;
  area_m2_interval?: Interval;
}

export interface Layer {
  material: string;
  thickness: string | number;
}

export interface WorkDefinition {
  name: string;
  kind: string;
  in?: string;
  of?: string;
  along?: string;
  level?: string | number;
  at?: unknown;
  fall?: string | number;
  towards?: unknown;
  depth?: string | number;
  layers?: Layer[];
  strip?: string | number;
  soil?: string;
}

export interface Work {
  name: string;
  position: number;
  definition: WorkDefinition;
}

export interface SiteStake {
  stake: string;
  easting_m: number;
  northing_m: number;
  elevation_m: number | null;
  code?: string;
}

export interface FinishedMesh {
  vertices: number[];
  triangles: number[];
  owners: number[];
}

export interface Mesh {
  vertices: number[];
  triangles: number[];
}

export interface Site {
  title: string;
  units: 'metric' | 'imperial';
  revision: number;
  settings: Record<string, string>;
  visits: string[];
  pages: Page[];
  features: Feature[];
  works: Work[];
  sheets: string[];
  stakes: SiteStake[];
  ground?: Mesh | null;
  finished?: FinishedMesh | null;
}

export interface Ellipse {
  semi_major_m: number | null;
  semi_minor_m: number | null;
  bearing_deg: number | null;
}

export interface AdjustedPoint {
  point: string;
  code: string;
  easting_m: number | null;
  northing_m: number | null;
  elevation_m: number | null;
  sd_easting_m: number | null;
  sd_northing_m: number | null;
  sd_elevation_m: number | null;
  ellipse: Ellipse | null;
  readings: number;
  held_plan: boolean;
  held_height: boolean;
}

export interface Observation {
  visit: string;
  page: string;
  row: number;
  reading_id: number;
  kind: string;
  from: string;
  to: string;
  unit: 'm' | 'deg';
  observed: number;
  adjusted: number;
  residual: number;
  sd: number;
  redundancy: number;
  standardized: number;
  smallest_error: number | null;
}

export interface Suspect {
  visit: string;
  page: string;
  row: number;
  reading_id: number;
  kind: string;
  from: string;
  to: string;
  estimated_error: number;
  unit: 'm' | 'deg';
  alone: boolean;
  sentence: string;
}

export interface Frame {
  visit: string;
  determined: boolean;
  shift_e_m: number | null;
  shift_n_m: number | null;
  shift_h_m: number | null;
  turn_deg: number | null;
  sd_turn_deg: number | null;
}

export interface GlobalTest {
  statistic: number | null;
  lower: number | null;
  upper: number | null;
  passed: boolean;
}

export interface Adjustment {
  points: AdjustedPoint[];
  observations: Observation[];
  degrees_of_freedom: number;
  sigma0: number;
  global_test: GlobalTest;
  suspects: Suspect[];
  undetermined: string[];
  undetermined_why: string[];
  frames: Frame[];
  sd_scale: number;
  datum: string;
  iterations: number;
}

export interface Ground {
  points: number;
  triangles: number;
  plan_area_m2: number;
  plan_area_m2_interval: Interval | null;
  slope_area_m2: number;
  lowest_m: number;
  highest_m: number;
  warnings: string[];
}

export interface ContourLine {
  type: string;
  properties: ContourAbout;
  geometry: LineGeometry;
}

export interface ContourAbout {
  elevation_m: number;
  index: boolean;
  closed: boolean;
}

export interface LineGeometry {
  type: string;
  coordinates: number[][];
}

export interface Contours {
  type: string;
  interval_m: number;
  features: ContourLine[];
}

export interface ProfilePoint {
  chainage_m: number;
  elevation_m: number | null;
  easting_m: number;
  northing_m: number;
}

export interface Profile {
  points: ProfilePoint[];
  run_m: number;
  rise_m: number;
  fall_m: number;
  from_m: number | null;
  to_m: number | null;
}

export interface SectionPoint {
  chainage_m: number;
  easting_m: number;
  northing_m: number;
  existing_m: number | null;
  stripped_m: number | null;
  formation_m: number | null;
  finished_m: number | null;
  element: string | null;
}

export interface LongSection {
  points: SectionPoint[];
  cut_m2: number;
  fill_m2: number;
}

export interface Station {
  points: SectionPoint[];
  cut_m2: number;
  fill_m2: number;
  chainage_m: number;
  cut_m3: number;
  fill_m3: number;
  mass_m3: number;
}

export interface Sections {
  along: string;
  long_section: LongSection;
  stations: Station[];
}

export interface Level {
  elevation_m: number;
  interval_m: Interval;
  slope_percent: number;
  fall_bearing_deg: number | null;
}

export interface Measure {
  feature: string;
  kind: string;
  code: string;
  length_m: number | null;
  length_m_interval: Interval;
  slope_length_m: number | null;
  slope_length_m_interval: Interval;
  area_m2: number | null;
  area_m2_interval: Interval;
  slope_area_m2: number | null;
  slope_area_m2_interval: Interval;
}

export interface Material {
  material: string;
  bank_m3: number | null;
  loose_m3: number | null;
  compacted_m3: number | null;
  loads: number;
}

export interface ElementVolume {
  element: string;
  cut_m3: number;
  fill_m3: number;
  net_m3: number;
  area_m2: number;
  uncovered_m2: number;
  cut_interval_m3: Interval;
  fill_interval_m3: Interval;
  net_interval_m3: Interval;
  strip_m3: number;
  materials: Material[];
}

export interface Volume {
  cut_m3: number;
  fill_m3: number;
  net_m3: number;
  area_m2: number;
  uncovered_m2: number;
  cut_interval_m3: Interval;
  fill_interval_m3: Interval;
  net_interval_m3: Interval;
  strip_m3: number;
  materials: Material[];
  elements?: ElementVolume[];
  cautions?: string[];
}

export interface Balance {
  element: string;
  level_m: number;
  cut_m3: number;
  fill_m3: number;
}

export interface Finding {
  kind: string;
  sentence: string;
  easting_m?: number;
  northing_m?: number;
  depth_m?: number;
  area_m2?: number;
  volume_m3?: number;
}

export interface Drain {
  findings: Finding[];
}

export interface TakeoffLine {
  item: string;
  unit: string;
  net: number;
  waste_percent: number;
  gross: number;
  packs: number | null;
  pack_unit: string;
  spare: number | null;
  source: string[];
  interval: Interval;
  rate?: number | null;
  amount?: number | null;
  amount_interval?: Interval;
}

export interface Estimate {
  lines: TakeoffLine[];
  warnings: string[];
  currency?: string;
  total?: number | null;
  total_interval?: Interval;
}

export interface Tie {
  from: string;
  distance_m: number;
}

export interface Polar {
  at: string;
  backsight: string;
  circle_deg: number;
  bearing_deg: number;
  distance_m: number;
}

export interface Offset {
  from: string;
  to: string;
  chainage_m: number;
  offset_m: number;
}

export interface Methods {
  ties?: Tie[];
  polar?: Polar;
  offsets?: Offset;
}

export interface Stake {
  stake: string;
  code: string;
  easting_m: number;
  northing_m: number;
  elevation_m: number | null;
  ground_m: number | null;
  cut_m: number | null;
  sd_m: number | null;
  methods: Methods;
  caution: string;
}

export interface FitResidual {
  point: string;
  de_m: number;
  dn_m: number;
}

export interface Fit {
  shift_e_m: number;
  shift_n_m: number;
  turn_deg: number;
  scale: number;
  residuals: FitResidual[];
  sentence: string;
}

export interface Setout {
  method: string;
  fit: Fit;
  stakes: Stake[];
  order: string[];
}

export interface Check {
  point: string;
  stake: string;
  de_m: number | null;
  dn_m: number | null;
  dz_m: number | null;
  distance_m: number | null;
  tolerance_m: number | null;
  sd_m: number | null;
  height_tolerance_m: number | null;
  height_sd_m: number | null;
  verdict: 'pass' | 'fail' | 'cannot tell';
  sentence: string;
}

export interface Proof {
  checks: Check[];
  pass: number;
  fail: number;
  cannot_tell: number;
}

export interface VisitPlan {
  sentences?: string[];
}

/** What each operation gives. */
export interface Operations {
  "site": Site;
  "gear": GearList;
  "adjust": Adjustment;
  "ground": Ground;
  "contours": Contours;
  "elevation": Level;
  "profile": Profile;
  "sections": Sections;
  "measure": Measure;
  "volume": Volume;
  "preview-volume": Volume;
  "balance": Balance;
  "drain": Drain;
  "takeoff": Estimate;
  "estimate": Estimate;
  "setout": Setout;
  "verify": Proof;
  "plan-visit": VisitPlan;
  "history": History;
  "import": Done;
  "put-gear": Done;
  "add-reading": Done;
  "set-aside": Done;
  "put-feature": Done;
  "put-setting": Done;
  "put-work": WorksDone;
  "remove-work": WorksDone;
  "works": WorksDone;
  "undo": Stepped;
  "redo": Stepped;
}

/** What each operation may be asked with. */
export interface Arguments {
  "site": Partial<Record<"with-ground" | "with-finished", unknown>>;
  "gear": { readonly none?: never };
  "adjust": { readonly none?: never };
  "ground": { readonly none?: never };
  "contours": Partial<Record<"interval", unknown>>;
  "elevation": Partial<Record<"easting" | "northing", unknown>>;
  "profile": Partial<Record<"along" | "from" | "to", unknown>>;
  "sections": Partial<Record<"along" | "from" | "to" | "spacing" | "width", unknown>>;
  "measure": Partial<Record<"feature", unknown>>;
  "volume": { readonly none?: never };
  "preview-volume": Partial<Record<"definition", unknown>>;
  "balance": Partial<Record<"element" | "definition", unknown>>;
  "drain": { readonly none?: never };
  "takeoff": { readonly none?: never };
  "estimate": { readonly none?: never };
  "setout": Partial<Record<"at" | "backsight" | "from" | "to" | "origin" | "direction", unknown>>;
  "verify": { readonly none?: never };
  "plan-visit": { readonly none?: never };
  "history": { readonly none?: never };
  "import": Partial<Record<"page" | "name" | "visit" | "gear" | "frame" | "text", unknown>>;
  "put-gear": Partial<Record<"name" | "like" | "source" | "distance_m" | "distance_ppm" | "angle_rad" | "zenith_rad" | "centring_m" | "plan_m" | "height_m" | "staff_m" | "levelled_km_m" | "leg_m", unknown>>;
  "add-reading": Partial<Record<"page_id" | "record", unknown>>;
  "set-aside": Partial<Record<"reading_id" | "reason" | "take-back", unknown>>;
  "put-feature": Partial<Record<"name" | "code" | "kind" | "role" | "points", unknown>>;
  "put-setting": Partial<Record<"key" | "value", unknown>>;
  "put-work": Partial<Record<"definition", unknown>>;
  "remove-work": Partial<Record<"name", unknown>>;
  "works": Partial<Record<"text" | "name", unknown>>;
  "undo": { readonly none?: never };
  "redo": { readonly none?: never };
}
