#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Pairs of digital angiograms of one bifurcation in space, with known truth; written apart from phantom/ and src/.

Tubes, rays, exposure and files are those of independent_phantom.py. What this adds: two C-arm positions, a bifurcation that
bends out of every plane, an anatomy that has moved between the two views, and the truth in space.

  positions   --apart LO,HI degrees between the two beams; SID and pitch may differ, the SOD does not
  movement    --shift LO,HI mm, any direction: where the anatomy of the second view lies, seen from the first. Rigid.
  plane       the limbs are drawn around a plane whose normal lies within 25 degrees of the middle of the two beams; each
              starts up to 20 degrees out of it and bends both in it and out of it (up to 0.044 rad/mm)
  both views  no limb shortened by more than 30 %, no piece of it steeper than 55 degrees, no two limbs over each other
  clicks      drawn anew in each view: not the same place of the vessel
  sections    round; with --elliptic up to twice as long as wide in a throat, the area as drawn: diameters are then those of the
              circle of the same area (the truth in the image, seedNNNNa.json, knows only those: it is not what one view sees)
  pictures    each view has its own contrast, photons, blur, background, catheter and crossing vessels

Truth in space (seedNNNN.json), by the definitions of docs of `branchkeep rebuild`; lengths along the axis from the branch point:
  MLD           smallest mean diameter over 0.5 mm between the ostium and the nearer of the two clicks
  ostium        where the axis leaves the largest circle inside the limbs laid flat on the plane of the bifurcation
  angles        between the chords from the branch point to 8 mm along the axes
  foreshortening_pct   1 - sum |ds seen| / sum ds from the branch point to the nearer click; ds seen is what lies across the
                beam through the isocentre. foreshortening_ray_pct: across the ray through the place itself.

Usage: independent_pairs.py --seeds 0-59 --out DIR [--apart 30,50] [--shift 0,8] [--elliptic] [--flip-sign] [--png]
Files: seedNNNNa.dcm/.json and seedNNNNb.dcm/.json as independent_phantom.py writes them (truth in the image), seedNNNN.json.
"""
import argparse
import json
import os
import sys
import time

import numpy as np
from scipy import ndimage

import independent_phantom as ph

LIMBS, STEP = ph.LIMBS, ph.STEP_MM
MOST_SHORT, MOST_STEEP_DEG = 0.30, 55.0
PAIRS = (("distal_side_deg", "distal", "side"), ("proximal_side_deg", "proximal", "side"),
         ("proximal_distal_deg", "proximal", "distal"))


# ---------------------------------------------------------------- two positions of the C-arm
def angles_of(beam):
    """Positioner angles that look along a unit direction."""
    return np.degrees(np.arctan2(beam[0], -beam[1])), np.degrees(np.arcsin(beam[2]))


def turned(direction, angle_rad, rng):
    """A unit direction at this angle to another one, in any sense."""
    side = np.cross(direction, rng.normal(size=3))
    return np.cos(angle_rad) * direction + np.sin(angle_rad) * side / np.linalg.norm(side)


def draw_views(rng, apart_deg, size):
    """Two reachable positions, apart by an angle drawn from the range; angles in tenths of a degree, as headers have them."""
    while True:
        first = ph.draw_view(rng, size)
        primary, secondary = angles_of(turned(first.beam, np.radians(rng.uniform(*apart_deg)), rng))
        if abs(primary) > 60 or not -40 <= secondary <= 42:
            continue
        sid = first.sid_mm if rng.random() < 0.3 else round(float(np.clip(first.sid_mm + rng.uniform(-120, 120), first.sod_mm + 220, 1250)), 1)
        pitch = first.pitch_mm if rng.random() < 0.6 else round(first.pitch_mm * float(rng.choice([0.8, 1.25])), 5)
        second = ph.View(round(float(primary), 1), round(float(secondary), 1), sid, first.sod_mm, pitch, size)
        if 0.16 <= pitch * size / 512 <= 0.34 and apart_deg[0] <= apart(first, second) <= apart_deg[1]:
            return first, second


def apart(a, b):
    return float(np.degrees(np.arccos(np.clip(a.beam @ b.beam, -1, 1))))


# ---------------------------------------------------------------- the bifurcation
class UnroundTube(ph.Tube):
    """A tube whose section is an ellipse of the same area as the round one: axis ratio and direction of the long axis per sample.

    `outside` is a quadratic along a ray wherever the tube is straight, as in a round one, so the same root finding serves; only
    the deepest place of a ray is not where it is nearest to the axis. `radius` stays that of the circle of the same area.
    """

    def __init__(self, round_tube, ratio, angle_rad):
        self.__dict__.update(round_tube.__dict__)
        self.ratio = np.broadcast_to(ratio, self.radius.shape)
        first = np.cross(self.tangent, [0.36, 0.48, 0.8])
        first /= np.linalg.norm(first, axis=1, keepdims=True)
        self.long = np.cos(angle_rad) * first + np.sin(angle_rad) * np.cross(self.tangent, first)

    def reach(self):
        return self.radius * np.sqrt(self.ratio)

    def outside(self, points, index):
        index = self.foot(points, index)
        away = points - self.at(self.axis, index)
        along_long = np.einsum("ij,ij->i", away, self.at(self.long, index)) ** 2
        rest = np.einsum("ij,ij->i", away, away) - along_long
        ratio = self.at(self.ratio, index)
        return along_long / ratio + rest * ratio - self.at(self.radius, index) ** 2, index

    def deepest(self, source, ray, index):
        t, index = super().deepest(source, ray, index)
        h = 0.5 * self.at(self.radius, index)
        for _ in range(3):
            low, mid, high = (self.outside(source + (t + k * h)[:, None] * ray, index)[0] for k in (-1, 0, 1))
            t = t - np.clip((high - low) / 2 / np.maximum(high - 2 * mid + low, 1e-6), -4, 4) * h
        return t, self.foot(source + t[:, None] * ray, index)

    def minor_major(self):
        """Diameters, mm."""
        return 2 * self.radius / np.sqrt(self.ratio), 2 * self.radius * np.sqrt(self.ratio)


def unround(rng, limb):
    """Up to twice as long as wide in the throat of a lesion, in any direction; round outside it."""
    lesion, tube = limb["lesion"], limb["tube"]
    if lesion:
        s = np.arange(len(tube.radius)) * STEP
        most = rng.uniform(1.0, 2.0)
        shape = ph.lesion_shape(s, lesion["start"], lesion["length"], lesion["plateau"])
        limb["tube"] = UnroundTube(tube, most ** np.sqrt(shape), rng.uniform(0, np.pi))


def space_curve(view, heading, tilt, length_mm, rng, bend_per_mm):
    """Like independent_phantom.curve, but bending out of the plane as much as in it."""
    s = np.arange(0, length_mm, STEP)

    def bent():
        wave, phase = 2 * np.pi / rng.uniform(25, 50), rng.uniform(0, 2 * np.pi)
        turn, swing = rng.uniform(-1, 1, 2) * bend_per_mm
        return turn * s + swing / wave * (np.sin(wave * s + phase) - np.sin(phase))
    phi, psi = heading + bent(), tilt + bent()
    step = view.in_patient(np.cos(psi) * np.cos(phi), np.cos(psi) * np.sin(phi), np.sin(psi)) * STEP
    return s, np.concatenate([np.zeros((1, 3)), np.cumsum(step, axis=0)[:-1]])


def draw_bifurcation(rng, views, options):
    """Three limbs in patient mm as they lie in the first view, the branch point, the contrast; clicks in both views."""
    middle = views[0].beam + views[1].beam
    normal = turned(middle / np.linalg.norm(middle), np.radians(rng.uniform(0, 25)), rng)
    plan = ph.View(*angles_of(normal), views[0].sid_mm, views[0].sod_mm, views[0].pitch_mm, views[0].size_px)
    sizes = dict(zip(LIMBS, ph.draw_diameters(rng)))
    core_mm, mu0 = 0.60 * sizes["proximal"], rng.uniform(0.10, 0.30)
    main = rng.uniform(0, 2 * np.pi)
    opening = np.radians(rng.uniform(38, 105)) * rng.choice([-1, 1])
    headings = {"distal": main, "side": main + opening,
                "proximal": main + np.pi + np.sign(opening) * np.radians(rng.uniform(-10, 35))}
    where = plan.in_patient(rng.uniform(-4, 4), rng.uniform(-4, 4), rng.uniform(-12, 12))
    limbs = {}
    for name, diseased in zip(LIMBS, rng.integers(0, 2, 3)):
        lesion = ph.draw_lesion(rng, diseased, sizes[name], core_mm, options.ostial_share, options.lesion_mm)
        tube, healthy, click_mm = ph.draw_limb(rng, plan, name, headings[name], sizes[name], core_mm, lesion, mu0, space_curve)
        tube.axis = tube.axis + where
        other = max(click_mm + rng.uniform(-4, 4), lesion["start"] + lesion["length"] + 2.5 if lesion else 13.0)
        limbs[name] = {"tube": tube, "healthy": healthy, "clicks_mm": [click_mm, other], "lesion": lesion}
        if options.elliptic:
            unround(rng, limbs[name])
    return limbs, where, mu0


def as_seen(limbs, k, shift, strength):
    """The limbs as they lie in view k, with that view's click and contrast."""
    out = {}
    for name, limb in limbs.items():
        tube = object.__new__(type(limb["tube"]))
        tube.__dict__.update(limb["tube"].__dict__, axis=limb["tube"].axis + shift, mu=limb["tube"].mu * strength)
        out[name] = dict(limb, tube=tube, click_mm=limb["clicks_mm"][k])
    return out


def across(tube, view, upto_mm, local):
    """Share of every step of an axis that is seen (sine of its angle to the beam, or to the ray), up to a place."""
    t = tube.tangent[: int(upto_mm / STEP)]
    d = view.beam
    if local:
        d = tube.axis[: len(t)] - view.source
        d = d / np.linalg.norm(d, axis=1, keepdims=True)
    return np.linalg.norm(np.cross(t, d), axis=1)


def good(seen, view):
    """Limbs from the side, apart and inside the image."""
    for limb in seen.values():
        sine = across(limb["tube"], view, limb["click_mm"], True)
        if sine.mean() < 1 - MOST_SHORT or sine.min() < np.cos(np.radians(MOST_STEEP_DEG)):
            return False
    return ph.acceptable(seen, view)


# ---------------------------------------------------------------- truth in space
def plane_of(limbs, where):
    """Two directions that span the plane nearest to the three chords of 8 mm."""
    chords = np.array([chord(limb["tube"], where) for limb in limbs.values()])
    return np.linalg.svd(chords)[2][:2]


def chord(tube, where):
    return tube.axis[int(round(8.0 / STEP))] - where


def core_of(limbs, where):
    """Largest circle inside the limbs laid flat: radius, and each limb's ostium along its axis."""
    plane = plane_of(limbs, where)
    tracks = {}
    for name, limb in limbs.items():
        t = limb["tube"]
        flat = (t.axis - where)[::2] @ plane.T
        tracks[name] = {"s": np.arange(len(flat)) * 2 * STEP, "x": flat[:, 0], "y": flat[:, 1], "d": 2 * t.radius[::2]}
    radius, centre = ph.core_circle(tracks, 1.0)
    ostium = {n: float(t["s"][np.argmax(np.hypot(t["x"] - centre[0], t["y"] - centre[1]) > radius)]) for n, t in tracks.items()}
    return radius, ostium


def segment_truth(limb, ostium):
    """One limb along its own axis."""
    d, ref = 2 * limb["tube"].radius, 2 * limb["healthy"][: len(limb["tube"].radius)]
    s = np.arange(len(d)) * STEP
    length = min(limb["clicks_mm"])
    mean = ndimage.uniform_filter1d(d, int(round(ph.RUN_MM / STEP)) + 1, mode="nearest")
    area = ndimage.uniform_filter1d(d * d, int(round(ph.RUN_MM / STEP)) + 1, mode="nearest")
    k = int(np.argmin(np.where((s >= ostium) & (s <= length), mean, np.inf)))
    every = slice(0, int((max(limb["clicks_mm"]) + 3) / STEP), 10)
    lesion = limb["lesion"]
    minor, major = limb["tube"].minor_major() if isinstance(limb["tube"], UnroundTube) else (d, d)
    return {"length_mm": length, "clicks_mm": limb["clicks_mm"], "ostium_mm": ostium, "mld_mm": float(mean[k]), "mld_position_mm": float(s[k]),
            "reference_mm": float(ref[k]), "stenosis_pct": float(100 * (1 - mean[k] / ref[k])),
            "area_stenosis_pct": float(100 * (1 - area[k] / ref[k] ** 2)),
            "lesion": lesion and {"axis_length_mm": lesion["length"], "start_mm": lesion["start"], "eccentric_mm": lesion["shift"],
                                  "ostial": bool(lesion["ostial"] or lesion["start"] < ostium + 0.5)},
            "position_mm": np.round(s[every], 3).tolist(), "points_mm": np.round(limb["tube"].axis[every], 4).tolist(),
            "diameter_mm": np.round(d[every], 4).tolist(), "minor_mm": np.round(minor[every], 4).tolist(),
            "major_mm": np.round(major[every], 4).tolist(), "axis_ratio_at_mld": float(major[k] / minor[k]), "reference_along_mm": np.round(ref[every], 4).tolist()}


def short_pct(limb, view, local):
    return float(100 * (1 - across(limb["tube"], view, min(limb["clicks_mm"]), local).mean()))


def truth_in_space(seed, limbs, where, views, seen, shift):
    radius, ostium = core_of(limbs, where)
    cross = np.cross(views[0].beam, views[1].beam)
    cross /= np.linalg.norm(cross)
    angle = {}
    for key, a, b in PAIRS:
        u, v = chord(limbs[a]["tube"], where), chord(limbs[b]["tube"], where)
        angle[key] = float(np.degrees(np.arccos(u @ v / np.linalg.norm(u) / np.linalg.norm(v))))
    short = {word: {f"view{k + 1}": {n: short_pct(seen[k][n], views[k], local) for n in LIMBS} for k in (0, 1)}
             for word, local in (("foreshortening_pct", False), ("foreshortening_ray_pct", True))}
    return {"schema": "branchkeep.independent-pair/1", "seed": seed, "view_separation_deg": apart(*views),
            "branch_point_mm": where.tolist(), "shift_mm": shift.tolist(), "shift_across_mm": float(shift @ cross),
            "core_diameter_mm": 2 * radius, "angles": angle, **short,
            "segments": {n: segment_truth(limbs[n], ostium[n]) for n in LIMBS}}


# ---------------------------------------------------------------- one pair
def draw(seed, options):
    """Everything that lies in space."""
    rng = np.random.default_rng([77043, seed])
    for _ in range(30):
        views = draw_views(rng, options.apart, options.size)
        for _ in range(60):
            limbs, where, mu0 = draw_bifurcation(rng, views, options)
            shift = turned(np.array([0.0, 0.0, 1.0]), np.arccos(rng.uniform(-1, 1)), rng) * rng.uniform(*options.shift)
            seen = [as_seen(limbs, k, shift * k, 1.0 if k == 0 else rng.uniform(0.8, 1.25)) for k in (0, 1)]
            if all(good(s, v) for s, v in zip(seen, views)):
                return rng, views, limbs, where, mu0, shift, seen
    raise RuntimeError(f"seed {seed}: no bifurcation fits two views")


def picture(rng, view, limbs, where, mu0, look, options):
    """One view exposed: stored values and what stands beside the vessel."""
    over = 4 if options.size <= 512 else 2
    dark = ph.attenuation_of_union([limb["tube"] for limb in limbs.values()], view, over)
    extra, facts = [], {"crossings_px": [], "catheter": None, "wire_in_limb": []}
    for _ in range(int(rng.choice([0, 1, 2], p=[0.5, 0.35, 0.15]))):
        crossing = ph.draw_crossing(rng, limbs, view, where, False)
        if crossing:
            axis, radius, at = crossing
            extra.append(ph.Tube(axis, radius, np.full(len(radius), mu0 * rng.uniform(0.6, 1.0))))
            facts["crossings_px"].append(np.round(at, 1).tolist())
    if rng.random() < 0.6:
        shaft, bore, facts["catheter"] = ph.draw_catheter(rng, limbs, view, mu0)
        extra += [shaft, bore]
    for tube in extra:
        dark += ph.attenuation_of_union([tube], view, over)
    log_background, put_in = ph.background(rng, view)
    stored, gain = ph.expose(rng, view, over, dark, log_background, look)
    return stored, dict(facts, **put_in), gain


def make(seed, options):
    rng, views, limbs, where, mu0, shift, seen = draw(seed, options)
    name = os.path.join(options.out, f"seed{seed:04d}")
    bits = int(rng.choice([8, 10, 12], p=[0.15, 0.7, 0.15]))
    for k, letter in enumerate("ab"):
        view, at = views[k], where + shift * k
        look = ph.draw_look(rng, bits, view.pitch_mm)
        stored, scene, gain = picture(rng, view, seen[k], at, mu0, look, options)
        truth = {"schema": "branchkeep.independent-truth/1", "seed": seed, "rows": view.size_px, "columns": view.size_px,
                 "geometry": {"primary_deg": view.primary_deg, "secondary_deg": view.secondary_deg, "sid_mm": view.sid_mm,
                              "sod_mm": view.sod_mm, "imager_spacing_mm": [view.pitch_mm] * 2}}
        truth.update(ph.truth_of(seen[k], view, at, rng))
        truth.update(scene=scene, look=dict(look, contrast_per_mm=mu0, grey_per_photon=gain,
                                            psf_sigma_px=look["psf_fwhm_mm"] / 2.354820 / view.pitch_mm))
        written = view
        if options.flip_sign and letter == "b":
            written = ph.View(-view.primary_deg, view.secondary_deg, view.sid_mm, view.sod_mm, view.pitch_mm, view.size_px)
        ph.write_dicom(f"{name}{letter}.dcm", written, stored, look, f"{seed} pair {letter}")
        with open(f"{name}{letter}.json", "w", encoding="ascii") as f:
            json.dump(truth, f)
        if options.png:
            ph.write_png(f"{name}{letter}.png", stored, truth)
    space = truth_in_space(seed, limbs, where, views, seen, shift)
    space["defects"] = {"flip_sign": options.flip_sign}
    with open(name + ".json", "w", encoding="ascii") as f:
        json.dump(space, f)
    return space


def interval(low_most, high_most):
    def read(text):
        low, high = (float(v) for v in text.split(","))
        if not low_most <= low <= high <= high_most:
            raise argparse.ArgumentTypeError(f"LO,HI between {low_most:g} and {high_most:g} was expected")
        return low, high
    return read


def parse(argv):
    p = argparse.ArgumentParser(description="Pairs of digital angiograms of one bifurcation, with the truth in space.")
    p.add_argument("--seeds", type=ph.seeds, required=True, help="one seed, or FIRST-LAST")
    p.add_argument("--out", default=".", help="folder for seedNNNN{a,b}.dcm, their .json and seedNNNN.json")
    p.add_argument("--apart", type=interval(5, 90), default=(30.0, 50.0), metavar="LO,HI", help="degrees between the views; 30,50")
    p.add_argument("--shift", type=interval(0, 40), default=(0.0, 8.0), metavar="LO,HI", help="mm moved between the views; 0,8")
    p.add_argument("--size", type=int, default=512, choices=[512, 1024], help="rows and columns")
    p.add_argument("--ostial-share", type=float, default=0.15, help="share of lesions that begin in the core")
    p.add_argument("--lesion-mm", type=ph.lengths, default=ph.LESION_MM, metavar="LO,HI", help="length of the lesions; 4,14")
    p.add_argument("--elliptic", action="store_true", help="lesions that are not round: axis ratio up to 2, any direction")
    p.add_argument("--flip-sign", action="store_true", help="reverse the primary angle in the second header: a defect to be found")
    p.add_argument("--png", action="store_true", help="also pictures for the eye")
    return p.parse_args(argv)


def main(argv=None):
    options = parse(argv)
    os.makedirs(options.out, exist_ok=True)
    start = time.time()
    for seed in options.seeds:
        make(seed, options)
    print(f"{len(options.seeds)} pairs in {time.time() - start:.1f} s", file=sys.stderr)


if __name__ == "__main__":
    main()
