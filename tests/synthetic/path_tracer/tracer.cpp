// Path tracer for a vessel of water before textured rectangles, lit by rectangular lamps.
//
// One source for the processor (g++ -O3 -shared -fPIC) and for CUDA (nvcc -x cu -shared). Lengths
// are in mm, y points down, extinction is in 1/mm. Three channels share each path: one of them
// draws the free flights, and the three are weighed by the balance heuristic over the whole path
// (Wilkie et al. 2014, Hero wavelength spectral sampling, doi:10.1111/cgf.12419).
// Phase function: Henyey & Greenstein (1941), doi:10.1086/144246.

#include <cmath>
#include <cstdint>
#include <cstring>

#ifdef __CUDACC__
#define HD __host__ __device__
#else
#define HD
#endif

constexpr int MAX_RECTANGLES = 12;
constexpr int MAX_EVENTS = 600;
constexpr double PI = 3.14159265358979323846;
constexpr double NUDGE = 1e-6;
enum Region { AIR = 0, WALL = 1, MEDIUM = 2 };

// Kept in step with `_Scene` in tracer.py: doubles only.
struct Rectangle {
    double centre[3], half_u[3], half_v[3];  // half_u x half_v points where a lamp shines
    double colour[3];                        // reflectance, or radiance of a lamp
    double lamp;                             // 1 for a lamp
    double textured;                         // 1 for the texture, times `colour`
};

struct Scene {
    double outer[6], inner[6];  // x0 x1 y0 y1 z0 z1 of the vessel; open above
    double surface_y, wall_index, medium_index;
    double opaque, wall_colour[3];  // 1: the walls are diffuse and let nothing through
    double extinction[3], albedo[3], asymmetry;
    double room[6], room_reflectance[6], room_radiance[3];
    double rectangles;
    Rectangle rectangle[MAX_RECTANGLES];
};

struct Texture {
    const unsigned char* texels;  // height x width x 3
    const double* reflectance;    // of each code, 256
    int width, height;
};

// Irradiance of the textured rectangle 0 on a grid over its own coordinates -1..1, or none.
struct IrradianceMap {
    const double* values;  // rows x columns x 3
    int columns, rows;
};

struct Random {
    uint64_t state;
    HD explicit Random(uint64_t seed) : state(seed * 6364136223846793005ull + 1442695040888963407ull) {
        next(); next();
    }
    HD uint32_t next() {  // PCG-XSH-RR, O'Neill (2014)
        uint64_t old = state;
        state = old * 6364136223846793005ull + 1442695040888963407ull;
        uint32_t x = (uint32_t)(((old >> 18) ^ old) >> 27), r = (uint32_t)(old >> 59);
        return (x >> r) | (x << ((32 - r) & 31));
    }
    HD double uniform() { return (next() + 0.5) * (1.0 / 4294967296.0); }
};

HD static double dot(const double* a, const double* b) { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2]; }
HD static void cross(const double* a, const double* b, double* c) {
    c[0] = a[1]*b[2] - a[2]*b[1]; c[1] = a[2]*b[0] - a[0]*b[2]; c[2] = a[0]*b[1] - a[1]*b[0];
}
HD static void normalise(double* a) {
    double s = 1 / sqrt(dot(a, a));
    for (int i = 0; i < 3; i++) a[i] *= s;
}

HD static bool inside(const double* box, const double* p) {
    return p[0] > box[0] && p[0] < box[1] && p[1] > box[2] && p[1] < box[3] && p[2] > box[4] && p[2] < box[5];
}

HD static int region_at(const Scene& s, const double* p) {
    if (!inside(s.outer, p)) return AIR;
    if (!inside(s.inner, p)) return WALL;
    return p[1] > s.surface_y ? MEDIUM : AIR;
}

// Distances at which a ray enters and leaves a box, with the axes of those faces.
HD static bool slab(const double* box, const double* p, const double* d, double t[2], int axis[2]) {
    t[0] = -1e30; t[1] = 1e30; axis[0] = axis[1] = 0;
    for (int i = 0; i < 3; i++) {
        if (fabs(d[i]) < 1e-12) {
            if (p[i] <= box[2*i] || p[i] >= box[2*i+1]) return false;
            continue;
        }
        double a = (box[2*i] - p[i]) / d[i], b = (box[2*i+1] - p[i]) / d[i];
        if (a > b) { double c = a; a = b; b = c; }
        if (a > t[0]) { t[0] = a; axis[0] = i; }
        if (b < t[1]) { t[1] = b; axis[1] = i; }
    }
    return t[0] < t[1];
}

struct Hit {
    double t;
    int kind;  // 0 none, 1 boundary of the vessel, 2 rectangle, 3 room
    int item, axis, before, after;
    double u, v;
};

HD static void hit_vessel(const Scene& s, const double* p, const double* d, Hit& hit) {
    double ts[5]; int axes[5]; int count = 0;
    double t[2]; int axis[2];
    if (!slab(s.outer, p, d, t, axis) || t[1] < 0) return;
    for (int k = 0; k < 2; k++) { ts[count] = t[k]; axes[count++] = axis[k]; }
    if (slab(s.inner, p, d, t, axis)) for (int k = 0; k < 2; k++) { ts[count] = t[k]; axes[count++] = axis[k]; }
    if (fabs(d[1]) > 1e-12) { ts[count] = (s.surface_y - p[1]) / d[1]; axes[count++] = 1; }
    double from = NUDGE;
    for (int turn = 0; turn < count; turn++) {
        int best = -1;
        for (int k = 0; k < count; k++) if (ts[k] > from && (best < 0 || ts[k] < ts[best])) best = k;
        if (best < 0 || ts[best] >= hit.t) return;
        double before[3], after[3];
        for (int i = 0; i < 3; i++) {
            before[i] = p[i] + (ts[best] - NUDGE) * d[i];
            after[i] = p[i] + (ts[best] + NUDGE) * d[i];
        }
        int a = region_at(s, before), b = region_at(s, after);
        if (a != b) {
            hit.t = ts[best]; hit.kind = 1; hit.axis = axes[best]; hit.before = a; hit.after = b;
            return;
        }
        from = ts[best] + 1e-9;
    }
}

HD static bool hit_rectangle(const Rectangle& r, const double* p, const double* d, double& t, double& u, double& v) {
    double n[3]; cross(r.half_u, r.half_v, n);
    double slope = dot(n, d);
    if (fabs(slope) < 1e-12) return false;
    double to[3] = {r.centre[0] - p[0], r.centre[1] - p[1], r.centre[2] - p[2]};
    double at = dot(n, to) / slope;
    if (at <= 1e-4 || at >= t) return false;
    double q[3];
    for (int i = 0; i < 3; i++) q[i] = at * d[i] - to[i];
    u = dot(q, r.half_u) / dot(r.half_u, r.half_u);
    v = dot(q, r.half_v) / dot(r.half_v, r.half_v);
    if (fabs(u) > 1 || fabs(v) > 1) return false;
    t = at;
    return true;
}

HD static Hit nearest(const Scene& s, const double* p, const double* d) {
    Hit hit; hit.t = 1e30; hit.kind = 0;
    double t[2]; int axis[2];
    if (slab(s.room, p, d, t, axis)) {
        hit.t = t[1]; hit.kind = 3; hit.axis = axis[1];
        hit.item = 2 * axis[1] + (d[axis[1]] > 0 ? 1 : 0);
    }
    for (int k = 0; k < (int)s.rectangles; k++) {
        double u, v;
        if (hit_rectangle(s.rectangle[k], p, d, hit.t, u, v)) {
            hit.kind = 2; hit.item = k; hit.u = u; hit.v = v;
        }
    }
    hit_vessel(s, p, d, hit);
    return hit;
}

HD static void texel(const Texture& x, double u, double v, double* colour) {
    int i = (int)((u + 1) / 2 * x.width), j = (int)((v + 1) / 2 * x.height);
    i = i < 0 ? 0 : (i >= x.width ? x.width - 1 : i);
    j = j < 0 ? 0 : (j >= x.height ? x.height - 1 : j);
    const unsigned char* c = x.texels + 3 * ((size_t)j * x.width + i);
    for (int k = 0; k < 3; k++) colour[k] *= x.reflectance[c[k]];
}

HD static void irradiance_at(const IrradianceMap& m, double u, double v, double* e) {
    double x = (u + 1) / 2 * m.columns - 0.5, y = (v + 1) / 2 * m.rows - 0.5;
    x = x < 0 ? 0 : (x > m.columns - 1 ? m.columns - 1 : x);
    y = y < 0 ? 0 : (y > m.rows - 1 ? m.rows - 1 : y);
    int i = (int)x, j = (int)y;
    int i1 = i + 1 < m.columns ? i + 1 : i, j1 = j + 1 < m.rows ? j + 1 : j;
    double a = x - i, b = y - j;
    for (int k = 0; k < 3; k++) {
        const double* w = m.values;
        double top = w[3*(j*m.columns+i)+k]*(1-a) + w[3*(j*m.columns+i1)+k]*a;
        double low = w[3*(j1*m.columns+i)+k]*(1-a) + w[3*(j1*m.columns+i1)+k]*a;
        e[k] = top*(1-b) + low*b;
    }
}

HD static void turn_about(double* d, double cosine, Random& rng) {
    double axis[3] = {0, 0, 0}, u[3], v[3];
    axis[fabs(d[0]) < 0.7 ? 0 : 1] = 1;
    cross(d, axis, u); normalise(u); cross(d, u, v);
    double sine = sqrt(fmax(0.0, 1 - cosine * cosine)), phi = 2 * PI * rng.uniform();
    for (int i = 0; i < 3; i++) d[i] = cosine*d[i] + sine*(cos(phi)*u[i] + sin(phi)*v[i]);
    normalise(d);
}

HD static double henyey_greenstein(double g, Random& rng) {
    double x = rng.uniform();
    if (fabs(g) < 1e-3) return 1 - 2 * x;
    double s = (1 - g * g) / (1 - g + 2 * g * x);
    return (1 + g * g - s * s) / (2 * g);
}

// Reflected share at a smooth boundary (Fresnel), and the cosine of the refracted ray.
HD static double fresnel(double n1, double n2, double cosine, double& through) {
    double sine2 = n1*n1/(n2*n2) * (1 - cosine*cosine);
    if (sine2 >= 1) { through = 0; return 1; }
    through = sqrt(1 - sine2);
    double s = (n1*cosine - n2*through) / (n1*cosine + n2*through);
    double p = (n2*cosine - n1*through) / (n2*cosine + n1*through);
    return (s*s + p*p) / 2;
}

struct Path {
    double p[3], d[3];
    double weight[3];  // throughput over the density of the channel that draws
    double odds[3];    // density if another channel drew, over that of the one that does
    double seen[3];    // radiance gathered
    int channel;       // that draws
    bool counts;       // whether a lamp that is hit adds its light: no light was drawn towards it
};

HD static void gather(Path& path, const double* radiance) {
    double mean = (path.odds[0] + path.odds[1] + path.odds[2]) / 3;
    for (int k = 0; k < 3; k++) path.seen[k] += path.weight[k] * radiance[k] / mean;
}

// Light that the lamps send straight to a diffuse point; what must pass the vessel comes by chance.
HD static void from_lamps(const Scene& s, Path& path, const double* n, const double* colour, Random& rng) {
    for (int k = 0; k < (int)s.rectangles; k++) {
        const Rectangle& lamp = s.rectangle[k];
        if (lamp.lamp == 0) continue;
        double a = 2 * rng.uniform() - 1, b = 2 * rng.uniform() - 1, to[3], facing[3];
        for (int i = 0; i < 3; i++) to[i] = lamp.centre[i] + a*lamp.half_u[i] + b*lamp.half_v[i] - path.p[i];
        double distance = sqrt(dot(to, to));
        for (int i = 0; i < 3; i++) to[i] /= distance;
        cross(lamp.half_u, lamp.half_v, facing);
        double area = 4 * sqrt(dot(facing, facing)); normalise(facing);
        double here = dot(n, to), there = -dot(facing, to);
        if (here <= 0 || there <= 0) continue;
        Hit hit = nearest(s, path.p, to);
        if (hit.t < distance * (1 - 1e-6)) continue;
        double geometry = here * there * area / (PI * distance * distance), light[3];
        for (int i = 0; i < 3; i++) light[i] = colour[i] * lamp.colour[i] * geometry;
        gather(path, light);
    }
}

// Scatter a path at a diffuse surface: direct light, then a new direction. False ends the path.
HD static bool at_surface(const Scene& s, Path& path, const double* normal, const double* colour, Random& rng) {
    double n[3]; double side = dot(normal, path.d) < 0 ? 1 : -1;
    for (int i = 0; i < 3; i++) n[i] = side * normal[i];
    for (int i = 0; i < 3; i++) path.p[i] += 1e-5 * n[i];
    from_lamps(s, path, n, colour, rng);
    double most = 0;
    for (int i = 0; i < 3; i++) { path.weight[i] *= colour[i]; most = fmax(most, path.weight[i]); }
    if (most <= 0) return false;
    memcpy(path.d, n, sizeof n);
    turn_about(path.d, sqrt(rng.uniform()), rng);
    path.counts = false;
    return true;
}

HD static void fly(const Scene& s, Path& path, double t) {
    double drawn = s.extinction[path.channel];
    for (int k = 0; k < 3; k++) {
        double ratio = exp((drawn - s.extinction[k]) * t);
        path.weight[k] *= ratio; path.odds[k] *= ratio;
    }
    for (int i = 0; i < 3; i++) path.p[i] += t * path.d[i];
}

HD static void scatter(const Scene& s, Path& path, Random& rng) {
    double drawn = s.extinction[path.channel];
    for (int k = 0; k < 3; k++) {
        double ratio = s.extinction[k] / drawn;
        path.weight[k] *= s.albedo[k] * ratio; path.odds[k] *= ratio;
    }
    turn_about(path.d, henyey_greenstein(s.asymmetry, rng), rng);
    path.counts = true;
}

// The first flight of an unscattered ray through the medium always scatters: what passes is known.
HD static double forced_flight(const Scene& s, Path& path, double length, Random& rng) {
    double drawn = s.extinction[path.channel], whole = -expm1(-drawn * length);
    double t = -log1p(-rng.uniform() * whole) / drawn;
    for (int k = 0; k < 3; k++) {
        path.weight[k] *= whole;
        path.odds[k] *= whole / fmax(-expm1(-s.extinction[k] * length), 1e-300);
    }
    return t;
}

HD static bool survives(Path& path, Random& rng) {
    double mean = (path.odds[0] + path.odds[1] + path.odds[2]) / 3, most = 0;
    if (!(mean > 0)) return false;
    for (int k = 0; k < 3; k++) most = fmax(most, path.weight[k] / mean);
    if (most > 0.2) return true;
    double keep = fmax(most / 0.2, 0.02);
    if (rng.uniform() > keep) return false;
    for (int k = 0; k < 3; k++) path.weight[k] /= keep;
    return true;
}

// Follow a path until it ends. With a map of irradiance the textured rectangle 0 ends it; then
// rays that reach it neither scattered nor reflected are left out (`direct` says none was yet).
HD static void follow(const Scene& s, const Texture& x, const IrradianceMap& map, Path& path, bool direct, Random& rng) {
    for (int event = 0; event < MAX_EVENTS; event++) {
        Hit hit = nearest(s, path.p, path.d);
        if (hit.kind == 0) return;
        double ahead[3];
        for (int i = 0; i < 3; i++) ahead[i] = path.p[i] + NUDGE * path.d[i];
        if (region_at(s, ahead) == MEDIUM && s.extinction[path.channel] > 0) {
            double t = direct ? forced_flight(s, path, hit.t, rng) : -log(rng.uniform()) / s.extinction[path.channel];
            if (t < hit.t) {
                fly(s, path, t); scatter(s, path, rng); direct = false;
                if (!survives(path, rng)) return;
                continue;
            }
            fly(s, path, hit.t);
        } else for (int i = 0; i < 3; i++) path.p[i] += hit.t * path.d[i];

        double normal[3] = {0, 0, 0}, colour[3];
        if (hit.kind == 1) {
            normal[hit.axis] = path.d[hit.axis] > 0 ? -1 : 1;
            if (s.opaque != 0 && hit.after == WALL) {
                memcpy(colour, s.wall_colour, sizeof colour);
                if (!at_surface(s, path, normal, colour, rng) || !survives(path, rng)) return;
                continue;
            }
            double index[3] = {1.0, s.wall_index, s.medium_index}, through;
            double n1 = index[hit.before], n2 = index[hit.after], cosine = -dot(normal, path.d);
            if (rng.uniform() < fresnel(n1, n2, cosine, through)) {
                path.d[hit.axis] = -path.d[hit.axis]; direct = false;
            } else {
                for (int i = 0; i < 3; i++) path.d[i] = n1/n2*path.d[i] + (n1/n2*cosine - through)*normal[i];
                normalise(path.d);
            }
            path.counts = true;
            continue;
        }
        if (hit.kind == 3) {
            normal[hit.axis] = 1;
            gather(path, s.room_radiance);
            for (int i = 0; i < 3; i++) colour[i] = s.room_reflectance[hit.item];
            direct = false;
        } else {
            const Rectangle& r = s.rectangle[hit.item];
            cross(r.half_u, r.half_v, normal); normalise(normal);
            if (r.lamp != 0) {
                if (path.counts && dot(normal, path.d) < 0) gather(path, r.colour);
                return;
            }
            memcpy(colour, r.colour, sizeof colour);
            if (r.textured != 0) texel(x, hit.u, hit.v, colour);
            if (map.values && hit.item == 0) {
                if (direct) return;
                double light[3]; irradiance_at(map, hit.u, hit.v, light);
                for (int i = 0; i < 3; i++) light[i] *= colour[i] / PI;
                gather(path, light);
                return;
            }
            direct = false;
        }
        if (!at_surface(s, path, normal, colour, rng) || !survives(path, rng)) return;
    }
}

struct Job {
    const double* targets;  // cells x 3
    double origin[3], jitter_u[3], jitter_v[3];
    int irradiance;  // 1: light on a surface of normal `origin`; 0: light seen from `origin`
    int cells, paths;
    uint64_t seed;
};

// Mean over the paths of one cell, added to `out`.
HD static void run_cell(const Scene& s, const Texture& x, const IrradianceMap& map, const Job& job, int cell, int part, int parts, double* sum) {
    Random rng(job.seed + 0x9E3779B97F4A7C15ull * ((uint64_t)cell * parts + part + 1));
    for (int n = part; n < job.paths; n += parts) {
        Path path; double target[3], to[3];
        double a = rng.uniform() - 0.5, b = rng.uniform() - 0.5;
        for (int i = 0; i < 3; i++) target[i] = job.targets[3*cell+i] + a*job.jitter_u[i] + b*job.jitter_v[i];
        for (int i = 0; i < 3; i++) { path.weight[i] = path.odds[i] = 1; path.seen[i] = 0; }
        path.channel = (int)(3 * rng.uniform());
        path.counts = true;
        if (job.irradiance) {
            double grey[3] = {1, 1, 1};
            for (int i = 0; i < 3; i++) { path.p[i] = target[i]; path.d[i] = -job.origin[i]; }
            at_surface(s, path, job.origin, grey, rng);
        } else {
            for (int i = 0; i < 3; i++) { path.p[i] = job.origin[i]; to[i] = target[i] - job.origin[i]; }
            normalise(to); memcpy(path.d, to, sizeof to);
        }
        follow(s, x, map, path, !job.irradiance && map.values, rng);
        double scale = (job.irradiance ? PI : 1.0) / job.paths;
        for (int k = 0; k < 3; k++) sum[k] += scale * path.seen[k];
    }
}

#ifdef __CUDACC__
__global__ void run_cells(const Scene* s, Texture x, IrradianceMap map, Job job, int parts, double* out) {
    int thread = blockIdx.x * blockDim.x + threadIdx.x;
    if (thread >= job.cells * parts) return;
    int cell = thread / parts;
    double sum[3] = {0, 0, 0};
    run_cell(*s, x, map, job, cell, thread % parts, parts, sum);
    for (int k = 0; k < 3; k++) atomicAdd(out + 3*cell + k, sum[k]);
}
template <class T> static T* to_device(const T* data, size_t count) {
    T* copy; cudaMalloc(&copy, count * sizeof(T));
    cudaMemcpy(copy, data, count * sizeof(T), cudaMemcpyHostToDevice);
    return copy;
}
#endif

extern "C" int trace(const Scene* scene, const unsigned char* texels, const double* reflectance, int width, int height,
                     const double* map_values, int columns, int rows, const double* targets, int cells, const double* origin,
                     const double* jitter_u, const double* jitter_v, int irradiance, int paths, uint64_t seed, double* out) {
    Texture x = {texels, reflectance, width, height};
    IrradianceMap map = {map_values, columns, rows};
    Job job; job.targets = targets; job.irradiance = irradiance; job.cells = cells; job.paths = paths; job.seed = seed;
    memcpy(job.origin, origin, 24); memcpy(job.jitter_u, jitter_u, 24); memcpy(job.jitter_v, jitter_v, 24);
    memset(out, 0, sizeof(double) * 3 * cells);
#ifdef __CUDACC__
    int parts = paths < 64 ? 1 : paths / 64;
    Scene* s = to_device(scene, 1);
    x.texels = to_device(texels, (size_t)3 * width * height); x.reflectance = to_device(reflectance, 256);
    if (map_values) map.values = to_device(map_values, (size_t)3 * columns * rows);
    job.targets = to_device(targets, (size_t)3 * cells);
    double* sums = to_device(out, (size_t)3 * cells);
    long threads = (long)cells * parts;
    run_cells<<<(unsigned)((threads + 127) / 128), 128>>>(s, x, map, job, parts, sums);
    cudaMemcpy(out, sums, sizeof(double) * 3 * cells, cudaMemcpyDeviceToHost);
    int problem = (int)cudaGetLastError();
    cudaFree(s); cudaFree((void*)x.texels); cudaFree((void*)x.reflectance); cudaFree((void*)job.targets); cudaFree(sums);
    if (map_values) cudaFree((void*)map.values);
    return problem;
#else
    for (int cell = 0; cell < cells; cell++) run_cell(*scene, x, map, job, cell, 0, 1, out + 3*cell);
    return 0;
#endif
}
