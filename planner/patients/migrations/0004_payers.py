import django.db.models.deletion
import planner.trail.fields
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('patients', '0003_picture_files'),
        ('practice', '0001_initial'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='BenefitUsed',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('cover_series', models.CharField(max_length=16)),
                ('data', models.TextField()),
                ('at', models.DateTimeField()),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='benefits_used', to='patients.patient')),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ('patient', '-id'),
            },
        ),
        migrations.CreateModel(
            name='PayerPlan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('series', models.CharField(max_length=16)),
                ('number', models.PositiveIntegerField()),
                ('name', models.CharField(max_length=250)),
                ('data', models.TextField()),
                ('sha256', models.CharField(max_length=64)),
                ('reason', models.CharField(max_length=500)),
                ('at', models.DateTimeField()),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ('office', 'name', '-number'),
                'constraints': [models.UniqueConstraint(fields=('office', 'series', 'number'), name='payer_plan_number_once'), models.CheckConstraint(condition=models.Q(('number__gte', 1), models.Q(('reason', ''), _negated=True)), name='payer_plan_told')],
            },
        ),
        migrations.CreateModel(
            name='CoverVersion',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('series', models.CharField(max_length=16)),
                ('number', models.PositiveIntegerField()),
                ('data', models.TextField()),
                ('sha256', models.CharField(max_length=64)),
                ('reason', models.CharField(max_length=500)),
                ('at', models.DateTimeField()),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='covers', to='patients.patient')),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('plan', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='patients.payerplan')),
            ],
            options={
                'ordering': ('patient', 'series', '-number'),
                'constraints': [models.UniqueConstraint(fields=('patient', 'series', 'number'), name='cover_number_once'), models.CheckConstraint(condition=models.Q(('number__gte', 1), models.Q(('reason', ''), _negated=True)), name='cover_told')],
            },
        ),
        migrations.CreateModel(
            name='PayerQuestion',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('words', models.CharField(max_length=1000)),
                ('due', models.DateField()),
                ('at', models.DateTimeField()),
                ('asked_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('cover', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='questions', to='patients.coverversion')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='payer_questions', to='patients.patient')),
            ],
            options={
                'ordering': ('patient', '-id'),
                'indexes': [models.Index(fields=['office', 'due'], name='payer_question_due')],
                'constraints': [models.CheckConstraint(condition=models.Q(('words', ''), _negated=True), name='payer_question_said')],
            },
        ),
        migrations.CreateModel(
            name='PayerAnswer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('words', models.CharField(max_length=1000)),
                ('told', models.CharField(choices=[('written answer', 'written answer'), ('phone', 'phone')], max_length=20)),
                ('by', models.CharField(max_length=200)),
                ('on', models.DateField()),
                ('at', models.DateTimeField()),
                ('entered_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('question', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='answer', to='patients.payerquestion')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('told__in', ('written answer', 'phone')), models.Q(('words', ''), _negated=True), models.Q(('by', ''), _negated=True)), name='payer_answer_said')],
            },
        ),
    ]
