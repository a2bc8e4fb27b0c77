// Made from api.json by scripts/types.mjs; do not edit.

/** Low and high at 95 %. */
export type Interval = [number, number];

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
  rows?: number;
}

export interface History {
  changes: Change[];
}

export interface Done {
  revision: number;
  sentence?: string;
}

export interface Visit {
  name: string;
}

export interface Gear {
  name: string;
  source?: string;
}

export interface Row {
  id: number;
  line: number;
  raw: string;
  set_aside: string | null;
}

export interface Page {
  id?: number;
  name: string;
  kind: string;
  visit: string;
  gear: string;
  site_frame?: boolean;
  header: string;
  notes?: string;
  rows: Row[];
}

export interface FeatureVertex {
  point: string;
  edge: 'straight' | 'arc' | 'circle' | 'curve';
  ring?: number;
}

export interface Path {
  closed: boolean;
  vertices: Place[];
}

export interface Place {
  easting_m: number;
  northing_m: number;
  elevation_m: number | null;
  bulge?: number;
}

export interface Feature {
  name: string;
  code: string;
  kind: 'line' | 'area' | 'spot';
  role: string;
  vertices: FeatureVertex[];
  paths: Path[];
  missing?: string;
}

export interface Layer {
  material: string;
  thickness: string | number;
}

export interface WorkDefinition {
  kind: 'pad' | 'falling pad' | 'depth';
  in: string;
  level?: string;
  at?: unknown;
  fall?: string;
  towards?: unknown;
  depth?: string;
  layers?: Layer[];
  strip?: string;
  soil?: string;
}

export interface Work {
  name: string;
  position?: number;
  definition: WorkDefinition;
}

export interface PriceLine {
  item: string;
  unit: string;
  code?: string;
  measure?: string;
  rate?: string;
}

export interface Sheet {
  name: string;
}

export interface SiteStake {
  stake: string;
  easting_m: number;
  northing_m: number;
  elevation_m: number | null;
  code?: string;
}

export interface Site {
  title: string;
  units: 'metric' | 'imperial';
  currency?: string;
  revision: number;
  settings?: Record<string, string>;
  visits: Visit[];
  gear: Gear[];
  pages: Page[];
  features: Feature[];
  works: Work[];
  prices?: PriceLine[];
  sheets?: Sheet[];
  stakes?: SiteStake[];
  undo?: string | null;
  redo?: string | null;
}

export interface Ellipse {
  semi_major_m: number;
  semi_minor_m: number;
  bearing_deg: number;
}

export interface AdjustedPoint {
  point: string;
  code?: string;
  easting_m: number | null;
  northing_m: number | null;
  elevation_m: number | null;
  sd_easting_m: number | null;
  sd_northing_m: number | null;
  sd_elevation_m: number | null;
  ellipse?: Ellipse | null;
  readings?: number;
  held_plan?: boolean;
  held_height?: boolean;
}

export interface Observation {
  visit: string;
  page: string;
  row: number;
  id?: number;
  kind: string;
  from: string;
  to: string;
  observed: number;
  adjusted: number;
  residual: number;
  sd: number;
  redundancy: number;
  standardized: number;
}

export interface Suspect {
  visit: string;
  page: string;
  row: number;
  id?: number;
  kind: string;
  from: string;
  to: string;
  estimated_error: number;
  sentence: string;
}

export interface GlobalTest {
  statistic: number;
  lower: number;
  upper: number;
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
  datum?: string;
}

export interface Ground {
  points: number;
  triangles: number;
  plan_area_m2: number;
  slope_area_m2: number;
  lowest_m: number;
  highest_m: number;
  warnings: string[];
}

export interface Mesh {
  vertices: number[][];
  faces: number[][];
}

export interface Contour {
  level_m: number;
  index: boolean;
  closed: boolean;
  points: number[][];
}

export interface ProfilePoint {
  chainage_m: number;
  elevation_m: number | null;
  easting_m?: number;
  northing_m?: number;
}

export interface Profile {
  points: ProfilePoint[];
  rise_m?: number;
  run_m?: number;
  fall_percent?: number;
}

export interface Level {
  elevation_m: number;
  interval_m: Interval;
  slope_percent: number;
  fall_bearing_deg: number;
}

export interface Measure {
  length_m?: number;
  length_interval?: Interval;
  slope_length_m?: number;
  slope_length_interval?: Interval;
  area_m2?: number;
  area_interval?: Interval;
  slope_area_m2?: number;
  slope_area_interval?: Interval;
}

export interface Material {
  material: string;
  bank_m3: number;
  loose_m3: number;
  compacted_m3: number;
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
  strip_m3?: number;
  materials?: Material[];
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
  strip_m3?: number;
  materials: Material[];
  elements?: ElementVolume[];
  cautions?: string[];
}

export interface Balance {
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
  packs?: number | null;
  pack_unit?: string | null;
  spare?: number | null;
  source: string[];
  interval: Interval;
  rate?: number | null;
  amount?: number | null;
}

export interface Estimate {
  lines: TakeoffLine[];
  currency?: string;
  total?: number;
  total_interval?: Interval;
  warnings?: string[];
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
  easting_m: number;
  northing_m: number;
  elevation_m: number | null;
  ground_m: number | null;
  cut_m: number | null;
  sd_m: number | null;
  methods: Methods;
  caution?: string | null;
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
  sentence?: string;
}

export interface Setout {
  fit: Fit;
  stakes: Stake[];
  order: string[];
}

export interface Check {
  point: string;
  stake: string;
  de_m: number;
  dn_m: number;
  dz_m: number | null;
  distance_m: number;
  tolerance_m: number;
  sd_m: number;
  verdict: 'pass' | 'fail' | 'cannot tell';
  sentence: string;
}

export interface Proof {
  checks: Check[];
}

export interface VisitPlan {
  sentences?: string[];
}

/** What each operation gives. */
export interface Operations {
  "site": Site;
  "adjust": Adjustment;
  "ground": Ground;
  "mesh": Mesh;
  "contours": unknown;
  "elevation": Level;
  "profile": Profile;
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
  "add-reading": Done;
  "set-aside": Done;
  "put-work": Done;
  "put-feature": Done;
  "put-setting": Done;
  "undo": Done;
  "redo": Done;
}
